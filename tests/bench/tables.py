"""The tables of performance.md: what is compared with what, and what each may take."""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from panelshift.outline.measure import LENGTH_TOLERANCE_MM

from .inputs import PANELS
from .measured import Exponent, Measured, Timing

LEAST_SPEEDUP: Final = 1.7
MOST_BYTES: Final = 2000.0
LINEAR: Final = 1.05
"""The greatest exponent that is taken for linear: timings are no surer than that."""


@dataclass(frozen=True)
class Row:
    """One step: its benchmark, what it is compared with, and its target.

    Each of `floor` and `peers` is (label, benchmark).
    """

    step: str
    bench: str
    floor: tuple[str, str] | None = None
    peers: Sequence[tuple[str, str]] = field(default=())
    most_ms: float | None = None
    most_times: float | None = None
    """Of the floor."""


ROWS: Final = (
    Row(
        "read: SVG to curves",
        "bench_read",
        ("lxml parse, numbers converted", "bench_read_floor"),
        (("svgpathtools", "bench_read_svgpathtools"), ("svgelements", "bench_read_svgelements")),
        most_times=5.0,
    ),
    Row("find the panels: curves to pattern", "bench_find_panels"),
    Row(
        "lengths of all cubics, to 1e-6 mm",
        "bench_lengths",
        ("16 nodes once, no error estimate", "bench_lengths_floor"),
        (("svgpathtools", "bench_lengths_svgpathtools"), ("kurbopy", "bench_lengths_kurbopy")),
        most_times=2.0,
    ),
    Row("turn of cloth", "bench_turn"),
    Row("shift to 4 layers, turn known", "bench_carry"),
    Row("turn and shift to 4 layers", "bench_turn_and_carry", most_ms=10.0),
    Row("draw 4 sheets: allowance, labels, places", "bench_draw_sheets"),
    Row(
        "write 4 sheets as SVG",
        "bench_write",
        ("their numbers formatted", "bench_write_floor"),
        (("svgpathtools, svgwrite", "bench_write_svgpathtools"),),
    ),
    Row("whole job in memory: read to 4 SVG files", "bench_whole_job", most_ms=25.0),
    Row("about 30 pages of A4, from drawn lines", "bench_tile", most_ms=100.0),
    Row("of it the PDF alone", "bench_tile_document"),
    Row("lines of those large panels, one layer", "bench_tile_lines"),
    Row("their shift, 2 layers", "bench_tile_shift"),
    Row("their whole job, 2 layers printed", "bench_tile_job"),
    Row(
        "cold `panelshift cut`, 6 panels",
        "bench_cold_cut",
        ("its libraries imported", "bench_cold_libraries"),
        most_ms=800.0,
    ),
    Row(
        "cold `panelshift --help`",
        "bench_cold_help",
        ("Python and click started", "bench_cold_python"),
        most_ms=150.0,
    ),
)


def all_tables(measured: Measured) -> str:
    """Return all tables as Markdown."""
    return "\n\n".join(
        [_steps(measured), _accuracy(measured), _scaling(measured), _memory(measured)]
    )


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def _verdict(met: bool) -> str:
    return "met" if met else "**missed**"


def seconds_text(seconds: float) -> str:
    """Three figures in the unit that suits.

    >>> seconds_text(0.01234), seconds_text(1.5e-5), seconds_text(2.0)
    ('12.3 ms', '15.0 µs', '2.00 s')
    """
    for unit, size in (("s", 1.0), ("ms", 1e-3), ("µs", 1e-6)):
        if seconds >= size or unit == "µs":
            value = seconds / size
            places = 2 if value < 10.0 else 1 if value < 100.0 else 0
            return f"{value:.{places}f} {unit}"
    raise AssertionError


# -- time -------------------------------------------------------------------------------


def _steps(measured: Measured) -> str:
    rows = [_step(row, measured.timings) for row in ROWS]
    head = ("step", "median", "spread", "floor", "of floor", "peers (of ours)", "target", "")
    return _table(head, rows)


def _step(row: Row, timings: Mapping[str, Timing]) -> list[str]:
    own = timings[row.bench]
    floor, ratio = "", ""
    if row.floor:
        least = timings[row.floor[1]].median
        floor, ratio = f"{row.floor[0]}: {seconds_text(least)}", f"{own.median / least:.1f}"
    target, met = "", ""
    if row.most_ms is not None:
        target = f"{row.most_ms:g} ms"
        met = _verdict(own.median <= 1e-3 * row.most_ms)
    if row.most_times is not None:
        target = f"{row.most_times:g} of floor"
        met = _verdict(own.median <= row.most_times * least)
    peers = "; ".join(
        f"{label} {seconds_text(timings[bench].median)} ({timings[bench].median / own.median:.2g})"
        for label, bench in row.peers
        if bench in timings
    )
    return [
        row.step,
        seconds_text(own.median),
        seconds_text(own.iqr),
        floor,
        ratio,
        peers,
        target,
        met,
    ]


# -- accuracy ---------------------------------------------------------------------------


def _accuracy(measured: Measured) -> str:
    facts = measured.facts["bench_hard_lengths"]
    rows = []
    for name, largest in facts["largest"].items():
        ours = name == "panelshift"
        rows.append(
            [
                name,
                f"{largest:.1e} mm",
                f"{facts['beyond'][name]} of {facts['curves']}",
                f"{LENGTH_TOLERANCE_MM:g} mm" if ours else "",
                _verdict(largest <= LENGTH_TOLERANCE_MM) if ours else "",
            ]
        )
    return _table(
        ("lengths at cusps and hairpins", "largest error", "beyond 1e-6 mm", "target", ""), rows
    )


# -- size -------------------------------------------------------------------------------


def _scaling(measured: Measured) -> str:
    kinds = (
        ("one drawing", measured.sizes("bench_one_drawing")),
        (f"patterns of {PANELS}", measured.sizes("bench_many_patterns")),
    )
    rows = []
    for kind, sizes in kinds:
        panels = [facts["panels"] for facts in sizes]
        steps = list(sizes[0]["seconds"])
        whole = [sum(facts["seconds"].values()) for facts in sizes]
        rows.append(_scaled(f"{kind}, all steps", panels, whole, target=True))
        for step in steps:
            times = [facts["seconds"][step] for facts in sizes]
            rows.append(_scaled(f"{kind}: {step}", panels, times, target=False))
    return _table(("cost against panels", "seconds", "exponent (range)", "target", ""), rows)


def _scaled(step: str, panels: list[int], seconds: list[float], *, target: bool) -> list[str]:
    exponent = Exponent.of([float(n) for n in panels], seconds)
    return [
        step,
        ", ".join(f"{n:,}: {seconds_text(time)}" for n, time in zip(panels, seconds, strict=True)),
        str(exponent),
        "linear" if target else "",
        _verdict(exponent.slope <= LINEAR) if target else "",
    ]


# -- memory and workers -----------------------------------------------------------------


def _memory(measured: Measured) -> str:
    rows = []
    for groups in (1, 10):
        facts = measured.facts[f"bench_memory[{groups}]"]
        panels = f"{groups * PANELS} panels"
        for what, key in (
            ("a pattern keeps", "pattern"),
            ("reading it takes at most", "pattern at most"),
            ("pattern and 4 layers keep, when written", "all layers"),
            ("all that takes at most", "all layers at most"),
        ):
            rows.append(_bytes(f"{panels}: {what}", facts[key]))
    resident = measured.facts["bench_resident_memory"]["bytes"]
    rows.append(_bytes("a process grows by, for each pattern and 4 layers kept", resident))
    batch = measured.facts["bench_batch_memory"]
    few, many = (peak / 1e6 for peak in batch["peaks"])
    flat = _verdict(many < 1.1 * few + 1.0)
    rows.append(["10,000 and 100,000 empty jobs", f"{few:.1f} and {many:.1f} MB", "flat", flat])
    rows.append(["index of a batch", f"{batch['index bytes a job']:.0f} bytes a job", "", ""])
    known = measured.facts["bench_batch_resume"]["ms a job"]
    rows.append(["an untouched job", f"{known:.3f} ms", "0.1 ms", _verdict(known <= 0.1)])
    two = measured.facts["bench_two_workers"]
    speed = two["2 workers"]["jobs a second"]
    rows.append(_faster("two workers are faster than one by", two, speed))
    cluster = measured.facts["bench_cluster_of_two"]
    rows.append(_faster("a dask cluster of two, by", cluster, cluster["jobs a second"]))
    return _table(("memory for each curve segment; workers", "found", "target", ""), rows)


def _bytes(what: str, found: float) -> list[str]:
    return [what, f"{found:.0f} bytes", f"{MOST_BYTES:.0f} bytes", _verdict(found <= MOST_BYTES)]


def _faster(what: str, facts: Mapping[str, Any], speed: float) -> list[str]:
    ratios = facts["ratios"]
    ratio = statistics.median(ratios)
    return [
        what,
        f"{ratio:.2f} ({min(ratios):.2f} to {max(ratios):.2f}); {speed:.1f} jobs a second; "
        f"others took {facts['others']:.2f} cores",
        f"{LEAST_SPEEDUP:g}",
        _verdict(ratio >= LEAST_SPEEDUP),
    ]
