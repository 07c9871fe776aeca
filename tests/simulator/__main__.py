"""Write recorded passages with a fault: ``python -m simulator FAULT FOLDER [--seeds 0-11] [--hours 6]``."""

import argparse

from .cases import CLEAN, write_cases
from .faults import FAULTS

parser = argparse.ArgumentParser(prog="simulator", description=__doc__)
parser.add_argument("fault", choices=[*CLEAN, *FAULTS])
parser.add_argument("folder")
parser.add_argument("--seeds", default="0-2", help="first-last, or one")
parser.add_argument("--hours", type=float, default=6.0)
given = parser.parse_args()
first, _, last = given.seeds.partition("-")
for path in write_cases(
    given.folder, given.fault, range(int(first), int(last or first) + 1), hours=given.hours
):
    print(path)
