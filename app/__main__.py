"""Run the commands with ``python -m app``."""

from app.cli import main

raise SystemExit(main())
