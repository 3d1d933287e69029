"""Joints: how the contacts of a node hang together: by which cable, inside which module, by which normal.

A node only says that its contacts share one voltage. Who wants to know what a plug would break, or which way along the
cables a voltage comes, needs the joints.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from rigproof.model.patch import Cable
from rigproof.model.sheet import LANE, Jack
from rigproof.net.flatten import STEREO_LANES, lead_of
from rigproof.net.graph import Net


@dataclass(frozen=True, slots=True)
class Joint:
    """One way on from a contact."""

    to: str
    """The contact at its other end."""
    cable: int | None = None
    """The number of the cable in the patch; None inside a module."""
    hole: str | None = None
    """The normalled jack that makes the joint while nothing is plugged into it."""


class Joints:
    """All joints between the contacts of a net that carry voltages."""

    def __init__(self, net: Net) -> None:
        self.contacts = net.contacts
        self.lanes: dict[str, dict[str, str]] = {}
        """For every jack (`module.jack`), its contacts by lane."""
        self.at: dict[str, list[Joint]] = {}
        """For every contact, the ways on from it."""
        self.grounded: set[str] = set()
        """Contacts that a cable joins to ground."""
        for name, contact in self.contacts.items():
            if contact.jack.signal.is_volts:
                jack = f"{contact.module}.{contact.jack.id}"
                self.lanes.setdefault(jack, {})[contact.lane] = name
                self.at[name] = []
        for jack, lanes in self.lanes.items():
            self._join_inside(jack, lanes)
        for index, cable in enumerate(net.project.patch.cables):
            if cable.source in self.lanes and cable.target in self.lanes:
                self._join_by(index, cable)

    def jack(self, name: str) -> Jack:
        """Return the jack that `module.jack` names."""
        return self.contacts[next(iter(self.lanes[name].values()))].jack

    def meeting(
        self, starts: Iterable[str], *, plugged: Collection[str] = ()
    ) -> dict[str, tuple[str, Joint] | None]:
        """Return all contacts that meet at the starts, near ones first, each with where it was come from.

        Joints that hang on the empty holes of the jacks in `plugged` are broken.
        """
        found: dict[str, tuple[str, Joint] | None] = dict.fromkeys(starts)
        todo = list(found)
        for here in todo:
            for joint in self.at[here]:
                if joint.to not in found and (joint.hole is None or joint.hole not in plugged):
                    found[joint.to] = (here, joint)
                    todo.append(joint.to)
        return found

    def _join_inside(self, jack: str, lanes: Mapping[str, str]) -> None:
        module = jack.partition(".")[0]
        for lane, name in lanes.items():
            contact = self.contacts[name]
            for other in contact.jack.joins:
                self._join(name, self.lanes[f"{module}.{other}"][lane])
            normal = contact.jack.normal
            if normal is not None and not contact.is_plugged:
                there = self.lanes.get(f"{module}.{normal}", {})
                if there:
                    self._join(name, there.get(lane, next(iter(there.values()))), hole=jack)

    def _join_by(self, index: int, cable: Cable) -> None:
        ends = self.lanes[cable.source], self.lanes[cable.target]
        lead = lead_of(cable, self.jack(cable.source), self.jack(cable.target))
        for lane in lanes_of(lead):
            if all(lane in lanes for lanes in ends):
                self._join(ends[0][lane], ends[1][lane], cable=index)
        for lanes, other in (ends, ends[::-1]):
            # A ring meets the sleeve of a mono plug, or of a mono jack at the other end.
            if "ring" in lanes and (lead == "mono-3.5" or "ring" not in other):
                self.grounded.add(lanes["ring"])

    def _join(self, a: str, b: str, *, cable: int | None = None, hole: str | None = None) -> None:
        self.at[a].append(Joint(b, cable, hole))
        self.at[b].append(Joint(a, cable, hole))


def lanes_of(lead: str) -> tuple[str, ...]:
    """Return the lanes that a lead joins."""
    return (LANE,) if lead == "mono-3.5" else STEREO_LANES
