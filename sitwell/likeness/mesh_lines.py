"""Lines on a mesh: where patches meet, and where the surface turns away from the lens."""

from collections import defaultdict
from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


def border(
    triangles: Ints, region: NDArray[np.uint8], one: Collection[int], other: Collection[int]
) -> Ints:
    """The longest chain of vertices along which triangles of ``one`` touch those of ``other``.

    A closed one ends where it begins; empty where they don't touch.
    """
    sides = (triangles[np.isin(region, list(patches))] for patches in (one, other))
    first, second = (_edges_of(side) for side in sides)
    chains = linked(np.array(sorted(first & second), dtype=np.int32).reshape(-1, 2))
    return chains[0] if chains else np.zeros(0, dtype=np.int32)


def _edges_of(triangles: Ints) -> set[tuple[int, int]]:
    ends = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    return {(low, high) for low, high in ends.tolist()}


def linked(edges: Ints) -> list[Ints]:
    """Pairs (E, 2) of numbers as chains, the longest first; a closed one ends where it begins."""
    beside: dict[int, list[int]] = defaultdict(list)
    for one, other in edges.tolist():
        beside[one].append(other)
        beside[other].append(one)
    ends = [number for number, near in beside.items() if len(near) == 1]
    chains = []
    for start in (*ends, *beside):
        if not beside[start]:
            continue
        chain = [start]
        while beside[chain[-1]]:
            following = beside[chain[-1]].pop()
            beside[following].remove(chain[-1])
            chain.append(following)
        chains.append(np.array(chain, dtype=np.int32))
    return sorted(chains, key=len, reverse=True)


def turning_lines(values: Floats, triangles: Ints, facing: Floats) -> list[tuple[Floats, Ints]]:
    """Lines through the triangles along which ``facing`` (V,) is nothing.

    Each as ``values`` (V, C) along it, (N, C), and the triangle that each of its N - 1 pieces
    crosses. Where ``facing`` is linear in each triangle, such a line has no breaks (Hertzmann and
    Zorin 2000, "Illustrating smooth surfaces").
    """
    side = facing[triangles] > 0.0
    crossed = np.flatnonzero(side.any(axis=1) & ~side.all(axis=1))
    corners, ahead = triangles[crossed], side[crossed]
    # one corner is alone on its side: the line crosses both of its edges
    lone = np.where(ahead.sum(axis=1) == 1, ahead.argmax(axis=1), (~ahead).argmax(axis=1))
    rows = np.arange(len(crossed))
    tip = corners[rows, lone]
    edges = [np.stack([tip, corners[rows, (lone + step) % 3]], axis=1) for step in (1, 2)]
    ends, number = np.unique(np.sort(np.concatenate(edges), axis=1), axis=0, return_inverse=True)
    pairs = number.reshape(2, -1).T
    low, high = facing[ends[:, 0]], facing[ends[:, 1]]
    share = np.divide(low, low - high, out=np.full(len(low), 0.5), where=low != high)[:, None]
    points = values[ends[:, 0]] + share * (values[ends[:, 1]] - values[ends[:, 0]])
    owner = {frozenset(pair): int(crossed[row]) for row, pair in enumerate(pairs.tolist())}
    found = []
    for chain in linked(pairs.astype(np.int32)):
        steps = zip(chain[:-1].tolist(), chain[1:].tolist(), strict=True)
        owners = np.array([owner[frozenset(step)] for step in steps], dtype=np.int32)
        found.append((points[chain], owners))
    return found
