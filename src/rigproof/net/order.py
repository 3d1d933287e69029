"""In which order sections run: strongly connected components, in the direction of sound.

Source: components by Tarjan, "Depth-first search and linear graph algorithms", SIAM J. Comput. 1 (1972), as
implemented by a general-purpose graph library.
"""

from __future__ import annotations

from collections.abc import Sequence

import rustworkx


def strong_components(count: int, edges: Sequence[tuple[int, int]]) -> list[list[int]]:
    """Return the strongly connected components of a graph, sources first, members in a repeatable order.

    Inside a component members are sorted by their number, so that the same project always runs the same way.
    """
    graph: rustworkx.PyDiGraph[None, None] = rustworkx.PyDiGraph()
    graph.add_nodes_from([None] * count)
    graph.add_edges_from_no_data(list(edges))
    # The library returns components in reverse topological order.
    return [sorted(part) for part in reversed(rustworkx.strongly_connected_components(graph))]


def order_in_loop(members: Sequence[int], edges: Sequence[tuple[int, int]]) -> list[int]:
    """Return a loop's members so that few edges point backwards: depth first, in reverse post-order."""
    inside = set(members)
    following: dict[int, list[int]] = {m: [] for m in members}
    for a, b in edges:
        if a in inside and b in inside:
            following[a].append(b)
    done: list[int] = []
    seen: set[int] = set()
    for root in members:
        if root in seen:
            continue
        seen.add(root)
        stack = [(root, iter(sorted(set(following[root]))))]
        while stack:
            node, rest = stack[-1]
            step = next((m for m in rest if m not in seen), None)
            if step is None:
                done.append(node)
                stack.pop()
            else:
                seen.add(step)
                stack.append((step, iter(sorted(set(following[step])))))
    return done[::-1]
