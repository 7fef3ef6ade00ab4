"""The brush: lines along mesh edges, and filling what they enclose."""

import heapq
from collections import defaultdict
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from builders.head.source import Floats, Ints


class Brush:
    """Draws and fills on a mesh: vertices (V, 3) mm, triangles (T, 3), each two of them a quad.

    Lines keep to the sides of quads, which run along the features; diagonals would zigzag.
    """

    def __init__(self, vertices_mm: Floats, triangles: Ints) -> None:
        self.triangles = triangles
        diagonal_side = (2, 0)  # each quad was cut from its first corner to its third
        self._neighbours: dict[int, dict[int, float]] = defaultdict(dict)
        self._sharing: dict[tuple[int, int], list[int]] = defaultdict(list)
        self._touching: dict[int, list[int]] = defaultdict(list)
        for number, corners in enumerate(triangles.tolist()):
            for side, (a, b) in enumerate(zip(corners, corners[1:] + corners[:1], strict=True)):
                if side != diagonal_side[number % 2]:
                    length = float(np.linalg.norm(vertices_mm[a] - vertices_mm[b]))
                    self._neighbours[a][b] = self._neighbours[b][a] = length
                self._sharing[_edge(a, b)].append(number)
                self._touching[a].append(number)

    def line(self, stops: list[int]) -> list[int]:
        """Vertices along mesh edges through all ``stops`` by the shortest way."""
        walked = stops[:1]
        for start, stop in pairwise(stops):
            walked += self._shortest(start, stop)[1:]
        return walked

    def ring(self, members: Ints) -> list[int]:
        """The closed line along mesh edges through vertices that form a simple ring."""
        inside = set(members.tolist())
        following = {v: inside & set(self._neighbours[v]) for v in inside}
        odd = sorted(v for v, others in following.items() if len(others) != 2)
        if odd:
            raise SystemExit(f"The vertices are no simple ring at {odd}.")
        walk = [min(inside)]
        while len(walk) <= len(inside):
            before = walk[-2] if len(walk) > 1 else -1
            walk.append(next(v for v in sorted(following[walk[-1]]) if v != before))
        return walk

    def fill(self, line: list[int], seed: int) -> NDArray[np.int64]:
        """Triangles that can be reached from vertex ``seed`` without crossing the line."""
        if seed in line:
            raise SystemExit(f"The filling starts on its own border, at vertex {seed}.")
        fence = {_edge(a, b) for a, b in pairwise(line)}
        reached = set(self._touching[seed])
        waiting = list(reached)
        while waiting:
            corners = self.triangles[waiting.pop()].tolist()
            for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
                if _edge(a, b) in fence:
                    continue
                fresh = [t for t in self._sharing[_edge(a, b)] if t not in reached]
                reached.update(fresh)
                waiting += fresh
        if len(reached) > len(self.triangles) // 2:
            raise SystemExit(f"The border around vertex {seed} has a gap.")
        return np.array(sorted(reached))

    def _shortest(self, start: int, stop: int) -> list[int]:
        best, came = {start: 0.0}, {start: start}
        queue = [(0.0, start)]
        while queue:
            length, here = heapq.heappop(queue)
            if here == stop:
                break
            for there, step in self._neighbours[here].items():
                if length + step < best.get(there, np.inf):
                    best[there], came[there] = length + step, here
                    heapq.heappush(queue, (length + step, there))
        way = [stop]
        while way[-1] != start:
            way.append(came[way[-1]])
        return way[::-1]


def _edge(a: int, b: int) -> tuple[int, int]:
    return (a, b) if a < b else (b, a)
