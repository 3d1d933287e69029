"""Loudness as broadcasters count it, and true peak: K-weighting, 400 ms blocks, two gates, four times oversampling.

The published filter is given at 48 kHz only. For another rate each stage is taken back through the bilinear transform
about its own corner and forth again, which keeps the analogue response. The filter's impulse response has decayed
below 1e-12 after 0.2 s, so the filter is run as a convolution, block by block; a meter can be fed as sound comes.

Source: ITU-R BS.1770-5 (2023), Annex 1 (K-weighting tables 1 and 2, blocks, gates) and Annex 2 (true peak);
EBU Tech 3341 (2023) for momentary and short-term loudness; EBU Tech 3342 for the loudness range.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TABLE_RATE_HZ = 48_000.0
SHELF = (
    (1.53512485958697, -2.69169618940638, 1.19839281085285),
    (-1.69065929318241, 0.73248077421585),
)
"""Stage 1 at 48 kHz: b0 b1 b2, a1 a2. BS.1770, table 1."""
HIGH_PASS = ((1.0, -2.0, 1.0), (-1.99004745483398, 0.99007225036621))
"""Stage 2 at 48 kHz. BS.1770, table 2."""
OFFSET_LU = -0.691
SURROUND_WEIGHT = 1.41
"""Weight of the surround channels, the fourth and fifth of five; the others weigh 1. BS.1770, table 3."""
ABSOLUTE_GATE_LUFS = -70.0
RELATIVE_GATE_LU = -10.0
RANGE_GATE_LU = -20.0
HOP_S = 0.1
"""A new block begins every 100 ms. [s]"""
MOMENTARY_HOPS, SHORT_TERM_HOPS = 4, 30
RESPONSE_S = 0.2
"""Length of the impulse response that is kept. [s]"""
OVERSAMPLING = 4
HALF_TAPS = 24
"""Samples on each side from which a point between two samples is reckoned. Our choice."""


@dataclass(frozen=True, slots=True)
class Loudness:
    """What a meter has heard. Levels are minus infinity for silence, and where nothing passed the gate."""

    integrated_lufs: float
    momentary_max_lufs: float
    short_term_max_lufs: float
    range_lu: float
    true_peak_dbtp: float
    peak_dbfs: float
    rms_dbfs: float
    """Of all channels together; a full-scale sine in each reads -3.01."""


def _at_rate(
    stage: tuple[tuple[float, ...], tuple[float, ...]], rate_hz: float
) -> tuple[Floats, Floats]:
    """Return a stage's numerator and denominator at another rate.

    With u = (z - 1) / (z + 1) a stage is a ratio of quadratics in u; its corner lies at u = tan(pi f / rate).
    """
    b, a = np.array(stage[0]), np.array([1.0, *stage[1]])
    to_u = np.array([[1.0, -1.0, 1.0], [2.0, 0.0, -2.0], [1.0, 1.0, 1.0]])
    top, bottom = to_u @ b, to_u @ a
    corner = math.sqrt(bottom[2] / bottom[0])
    corner_hz = math.atan(corner) * TABLE_RATE_HZ / math.pi
    stretch = corner / math.tan(math.pi * corner_hz / rate_hz)
    scale = np.array([stretch**2, stretch, 1.0])
    from_u = np.array([[1.0, 1.0, 1.0], [-2.0, 0.0, 2.0], [1.0, -1.0, 1.0]])
    top, bottom = from_u @ (top * scale), from_u @ (bottom * scale)
    return top / bottom[0], bottom / bottom[0]


def _filtered(b: Floats, a: Floats, x: list[float]) -> list[float]:
    """Run a second-order section over a short signal, sample by sample."""
    x1 = x2 = y1 = y2 = 0.0
    out = []
    for value in x:
        y = b[0] * value + b[1] * x1 + b[2] * x2 - a[1] * y1 - a[2] * y2
        x2, x1, y2, y1 = x1, value, y1, float(y)
        out.append(float(y))
    return out


@cache
def k_weighting(rate_hz: float) -> Floats:
    """Return the impulse response of both stages at a rate."""
    signal = [1.0] + [0.0] * (round(RESPONSE_S * rate_hz) - 1)
    for stage in (SHELF, HIGH_PASS):
        signal = _filtered(*_at_rate(stage, rate_hz), signal)
    return np.array(signal)


@cache
def _between() -> Floats:
    """Return float64[3, 2 * HALF_TAPS]: for the three points between two samples, the weights of those around."""
    at = np.arange(-HALF_TAPS + 1, HALF_TAPS + 1, dtype=np.float64)
    rows = []
    for step in range(1, OVERSAMPLING):
        distance = at - step / OVERSAMPLING
        window = np.i0(9.0 * np.sqrt(np.maximum(0.0, 1.0 - (distance / HALF_TAPS) ** 2))) / np.i0(
            9.0
        )
        weights = np.sinc(distance) * window
        rows.append(weights / weights.sum())
    return np.array(rows)


class Meter:
    """Hears sound piece by piece, float64[channels, samples] with full scale at 1.0, and reads its loudness."""

    def __init__(self, rate_hz: float, channels: int = 2) -> None:
        if rate_hz < 8_000.0:
            raise ValueError(f"no loudness at a rate of {rate_hz} Hz")
        self.rate_hz = rate_hz
        self.channels = channels
        self.weights = np.array([SURROUND_WEIGHT if i in (3, 4) else 1.0 for i in range(channels)])
        self.response = k_weighting(rate_hz)
        self.hop = round(HOP_S * rate_hz)
        self._spectra: dict[int, NDArray[np.complex128]] = {}
        self._tail = np.zeros((channels, len(self.response) - 1))
        self._rest = np.zeros((channels, 0))
        self._hops: list[float] = []
        self._edge = np.zeros((channels, 2 * HALF_TAPS - 1))
        self._peak = 0.0
        self._true_peak = 0.0
        self._square_sum = 0.0
        self._samples = 0

    def add(self, data: Floats) -> None:
        """Hear some more."""
        if data.shape[1] == 0:
            return
        self._peak = max(self._peak, float(np.abs(data).max()))
        self._square_sum += float(np.sum(data * data))
        self._samples += data.shape[1]
        self._hear_peaks(data)
        weighted = np.concatenate([self._rest, self._weigh(data)], axis=1)
        whole = weighted.shape[1] // self.hop
        power = (
            (weighted[:, : whole * self.hop] ** 2)
            .reshape(self.channels, whole, self.hop)
            .mean(axis=2)
        )
        self._hops.extend((self.weights @ power).tolist())
        self._rest = weighted[:, whole * self.hop :]

    def _weigh(self, data: Floats) -> Floats:
        """Convolve with the response; what it rings on is kept for the next piece."""
        total = data.shape[1] + len(self.response) - 1
        size = 1 << (total - 1).bit_length()
        if size not in self._spectra:
            self._spectra[size] = np.fft.rfft(self.response, size)
        ringing = np.fft.irfft(np.fft.rfft(data, size) * self._spectra[size], size)[:, :total]
        kept = self._tail.shape[1]
        ringing[:, :kept] += self._tail
        self._tail = ringing[:, data.shape[1] :].copy()
        return ringing[:, : data.shape[1]]

    def _hear_peaks(self, data: Floats) -> None:
        joined = np.concatenate([self._edge, data], axis=1)
        self._edge = joined[:, -(2 * HALF_TAPS - 1) :].copy()
        for channel in joined:
            for weights in _between():
                points = np.convolve(channel, weights[::-1], mode="valid")
                self._true_peak = max(self._true_peak, float(np.abs(points).max(initial=0.0)))
        self._true_peak = max(self._true_peak, float(np.abs(data).max()))

    def _blocks(self, hops: int) -> Floats:
        """Return the mean power of every window of so many hops."""
        if len(self._hops) < hops:
            return np.zeros(0)
        sums = np.concatenate([[0.0], np.cumsum(self._hops)])
        blocks: Floats = np.maximum(sums[hops:] - sums[:-hops], 0.0) / hops
        return blocks

    def read(self) -> Loudness:
        """Return what has been heard so far; the last, unfinished 100 ms are left out."""
        momentary, short = self._blocks(MOMENTARY_HOPS), self._blocks(SHORT_TERM_HOPS)
        count = self._samples * self.channels
        return Loudness(
            integrated_lufs=gated_lufs(momentary),
            momentary_max_lufs=lufs(float(momentary.max(initial=0.0))),
            short_term_max_lufs=lufs(float(short.max(initial=0.0))),
            range_lu=loudness_range_lu(short),
            true_peak_dbtp=_db(self._true_peak),
            peak_dbfs=_db(self._peak),
            rms_dbfs=_db(math.sqrt(self._square_sum / count)) if count else -math.inf,
        )


def _db(ratio: float) -> float:
    return 20.0 * math.log10(ratio) if ratio > 0.0 else -math.inf


def lufs(power: float) -> float:
    """Return the loudness of a weighted mean power. [LUFS]"""
    return OFFSET_LU + 10.0 * math.log10(power) if power > 0.0 else -math.inf


def _power(loudness_lufs: float) -> float:
    return float(10.0 ** ((loudness_lufs - OFFSET_LU) / 10.0))


def gated_lufs(blocks: Floats) -> float:
    """Return integrated loudness of the powers of 400 ms blocks: absolute gate, then 10 LU below what passed it."""
    heard = blocks[blocks > _power(ABSOLUTE_GATE_LUFS)]
    if heard.size == 0:
        return -math.inf
    gate = float(heard.mean()) * 10.0 ** (RELATIVE_GATE_LU / 10.0)
    return lufs(float(heard[heard > gate].mean()))


def loudness_range_lu(blocks: Floats) -> float:
    """Return the loudness range of the powers of 3 s blocks: 10th to 95th percentile of what passes the gates."""
    heard = blocks[blocks > _power(ABSOLUTE_GATE_LUFS)]
    if heard.size == 0:
        return 0.0
    gate = float(heard.mean()) * 10.0 ** (RANGE_GATE_LU / 10.0)
    levels = np.sort(10.0 * np.log10(heard[heard > gate]))
    low, high = np.percentile(levels, [10.0, 95.0])
    return float(high - low)


def measure(data: Floats, rate_hz: float) -> Loudness:
    """Return the loudness of a whole sound, float64[channels, samples]."""
    meter = Meter(rate_hz, data.shape[0])
    step = round(10 * rate_hz)
    for start in range(0, data.shape[1], step):
        meter.add(np.ascontiguousarray(data[:, start : start + step]))
    return meter.read()
