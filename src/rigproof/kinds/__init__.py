"""The catalogue of section kinds: one explicit table, no logic."""

from __future__ import annotations

from rigproof.kinds import (
    ac_coupling,
    ad_envelope,
    attenuverter,
    cc_sender,
    cc_to_cv,
    clock,
    gate_sequencer,
    junction,
    ladder_filter,
    lfo,
    line_input,
    line_output,
    midi_merge,
    midi_serial_link,
    midi_usb_link,
    mixer,
    noise,
    one_sample_delay,
    oscillator,
    sample_voice,
    sequential_switch,
    slew,
    state_variable_filter,
    step_sequencer,
    stereo_delay,
    vca,
)
from rigproof.kinds.base import Kind

KINDS: dict[str, Kind] = {
    module.KIND.name: module.KIND
    for module in (
        ac_coupling,
        ad_envelope,
        attenuverter,
        cc_sender,
        cc_to_cv,
        clock,
        gate_sequencer,
        junction,
        ladder_filter,
        lfo,
        line_input,
        line_output,
        midi_merge,
        midi_serial_link,
        midi_usb_link,
        mixer,
        noise,
        one_sample_delay,
        oscillator,
        sample_voice,
        sequential_switch,
        slew,
        state_variable_filter,
        step_sequencer,
        stereo_delay,
        vca,
    )
}
