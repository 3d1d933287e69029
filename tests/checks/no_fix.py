"""The checks that never offer a fix, and why not."""

from __future__ import annotations

NO_FIX = {
    "bus-ribbon-overloaded": "the maker's own lead, or a second connector, has to be found.",
    "needed-input-open": "which output belongs there is the performer's to say.",
    "steady-voltage-blocked": "the voltage needs a way that is DC-coupled.",
    "voice-without-way-out": "whether a cable is missing or a module too many is the performer's to say.",
    "signal-ends-nowhere": "either the cable is not needed or the next one is missing.",
    "usb-ends-alike": "a host between two devices, or another way, has to be found.",
    "connectors-unlike": "an adapter lead has to be bought or made, and packed.",
    "usb-port-overdrawn": "a hub with a supply of its own, or another port, has to be found.",
    "input-can-clip": "what is typical fits, and how much room to keep is the performer's taste.",
    "interface-can-clip": "what is typical fits, and the rest is the performer's taste.",
    "way-out-silent": "which knob is down or which voltage is missing is the performer's to see. Sound is last there "
    "at the jack that is named. Keep monitors down while you look for it: it may come back at full level.",
    "trigger-never-comes": "what is to start it is the performer's to say.",
    "clips-with-all-up": "which fader gives way is the performer's taste. The place named first comes first in the "
    "sound.",
    "dc-on-audio": "an AC-coupled output or input has to be found, or the offset taken out where it arises.",
    "cv-on-the-sound-path": "which input was meant is the performer's to say.",
    "pitch-line-droop": "fewer inputs on the line, or a buffered multiple that compensates.",
    "gate-never-falls": "take out the offset, or set the threshold higher where the module can.",
    "sound-meets-itself": "drop one of the ways, or make both as long.",
    "pattern-never-meets": "which pattern gives way is music.",
    "map-overruled": "which of the two is meant is the performer's to say.",
    "cc-unheard": "a cable, a slot or a number is missing, and which is the performer's to say.",
    "move-unheard": "a cable, a level or the move is one too many or too few, and which is the performer's to say.",
    "third-hand-needed": "which move waits is music.",
    "messages-bunch-up": "settings that may come a beat later, or a line of its own, are the performer's to choose.",
}
"""What each says of its fix after `none is computed`."""
