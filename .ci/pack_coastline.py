"""Make assets/land-10m.npz: pack_coastline.py LAND_10M_JSON (land-10m.json of npm's world-atlas 2.0.2).

Format: TopoJSON specification 1, sections 2.1.4 (arcs), 2.1.2 (transform) and 2.2 (geometries).
"""

import sys
from pathlib import Path
from typing import Any

import numpy as np
import orjson
from numpy.typing import NDArray

Steps = NDArray[np.int32]


def pack(topojson: bytes, name: str = "land") -> dict[str, NDArray[Any]]:
    """Turn the outer rings of one object of a quantised topology into what ``coastline.unpack`` reads."""
    topology = orjson.loads(topojson)
    arcs = [np.cumsum(np.array(arc, dtype=np.int32), axis=0, dtype=np.int32) for arc in topology["arcs"]]

    def ring(references: list[int]) -> Steps:
        parts = [arcs[at] if at >= 0 else arcs[~at][::-1] for at in references]
        return np.concatenate([parts[0], *(part[1:] for part in parts[1:])])

    def rings(geometry: dict[str, Any]) -> list[Steps]:
        if geometry["type"] == "GeometryCollection":
            return [found for inner in geometry["geometries"] for found in rings(inner)]
        polygons = geometry["arcs"] if geometry["type"] == "MultiPolygon" else [geometry["arcs"]]
        return [ring(polygon[0]) for polygon in polygons]

    found = rings(topology["objects"][name])
    places = np.ascontiguousarray(np.concatenate(found).T)
    return {
        "steps": np.diff(places, axis=1, prepend=np.zeros((2, 1), np.int32)).astype(np.int32),
        "lengths": np.array([len(one) for one in found], dtype=np.int32),
        "scale": np.array(topology["transform"]["scale"]),
        "origin": np.array(topology["transform"]["translate"]),
    }


if __name__ == "__main__":
    target = Path(__file__).parent.parent / "assets" / "land-10m.npz"
    np.savez_compressed(target, **pack(Path(sys.argv[1]).read_bytes()))
