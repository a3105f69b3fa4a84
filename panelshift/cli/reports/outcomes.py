"""What a job came to: a cut by panel, layer and level; pages printed; and many jobs at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from ...construction.account import outcome_lines
from ...cutting.composing import CAUTION
from ...cutting.layer_sheets import distance_range
from ...cutting.verdict import verdict, walked_as_cut
from ...fit.plus_minus import doubt_words, layer_by_body
from ...fit.rolling import former_length, needs_former, rolling_guide
from ...job.resolved import Job
from ...job.result import CutResult, would_add
from ...job.said import settings
from ...shift import LayerPattern, Shifted
from ...units import MM_PER_UNIT, sheet_size, show, summand, unit_words
from . import listing, paragraphs, table

if TYPE_CHECKING:
    from ...batch import Outcome
    from ...batch.jobs import Status
    from ...printing import PageOptions
    from ...printing.sheet_prints import PrintedFile


def cut_text(result: CutResult, written: Sequence[str]) -> str:
    """Return the whole report as text: what the maker decides first, what it comes from last.

    *written*: paths of the files that were written.
    """
    job, shifted = result.job, result.shifted
    units = job.units
    # Panels have no length of their own in the list.
    beside = [
        line.words(job.plan) + (f", of {line.cloth}" if line.cloth else "")
        for line in result.lines
        if line.length
    ]
    return paragraphs(
        f"{job.plan.title}: {job.pattern.headline(units)}, {len(shifted.layers)} layers; "
        f"lengths in {unit_words(units)}",
        listing("Look at", result.warnings),
        _girths(shifted, units),
        _verdict_text(shifted, job),
        _sewn(job, shifted),
        "\n".join(doubt_words(shifted, units)),
        listing("To cut as well", beside),
        listing("Written", list(written)),
        listing("Next", _next_steps(job, shifted)),
        listing("What it was worked out from", settings(job)),
        *(_layer_text(shifted, layer, units) for layer in shifted.layers),
        _walk_text(shifted, units),
        "\n".join(CAUTION),
    )


def _layer_text(shifted: Shifted, layer: LayerPattern, units: str) -> str:
    distances, growth = layer.distances, shifted.grown
    away = distance_range(distances, units)
    title = f"layer {layer.place + 1}, {layer.fabric.name}: {away} from the drafted layer"
    if layer.drafted:
        cut = (
            "as drafted" if layer.whole_as_cut is layer.whole else "larger than drafted, see above"
        )
        return f"{title}: this is the drafted layer, cut {cut}"
    if layer.place not in growth.moves:
        return f"{title}: no change"
    pattern = shifted.turn.pattern
    levels = pattern.level_names()
    rows = []
    for i in layer.covered:
        own = [pattern.panels[i].level(name) for name in levels]
        cells = [
            summand(growth.at(layer.place, i, level.height), units, signed=True) if level else "-"
            for level in own
        ]
        rows.append([pattern.panels[i].name, *cells])
    heights = np.array([pattern.level_height(name) for name in levels])
    halves = 1.0 if pattern.full else 2.0
    girths = halves * growth.on(heights)[layer.place, list(layer.covered)].sum(axis=0)
    rows.append(["whole girth", *(summand(value, units, signed=True) for value in girths.tolist())])
    body = layer_by_body(shifted, layer)
    doubt = "" if body is None else f", by the body plus or minus {show(body, units)} at most"
    return f"{title}; growth across{doubt}:\n" + table(["panel", *levels], rows)


def _girths(shifted: Shifted, units: str) -> str:
    """Girth of the panels of each layer at the waist, without the gap."""
    drafted = shifted.turn.pattern.waist
    rows = []
    for layer in shifted.layers:
        if len(layer.covered) < len(layer.whole.panels):
            continue
        waist = layer.whole.waist
        rows.append(
            [layer.fabric.name, summand(waist, units), summand(waist - drafted, units, signed=True)]
        )
    return "Waist of all panels, without the lacing gap:\n" + table(
        ["layer", "girth", "against the draft"], rows
    )


def _sewn(job: Job, shifted: Shifted) -> str:
    """What comes of the sewing; or, where nothing is said of it, what it would add."""
    if shifted.lay is not None:
        return "\n".join(outcome_lines(shifted.lay, job.units))
    return would_add(job, shifted.turn)


def _walk_text(shifted: Shifted, units: str) -> str:
    drafted = {walked.seam: abs(walked.difference) for walked in shifted.turn.pattern.walk()}
    worst = max(
        (
            abs(walked.difference) - drafted[walked.seam]
            for layer in shifted.layers
            for walked in layer.walk()
        ),
        default=0.0,
    )
    lines = [
        "Seams walked in every layer: none differs by more than "
        f"{_finely(max(worst, 0.0), units)} beyond its difference in the draft."
    ]
    return "\n".join(lines + walked_as_cut(shifted, units))


def _finely(length: float, units: str) -> str:
    return f"{length / MM_PER_UNIT[units]:.{3 if units == 'mm' else 4}f} {units}"


def _verdict_text(shifted: Shifted, job: Job) -> str:
    """What is worth cutting, and the steps at the waist for those who redraw by hand."""
    found, plan = verdict(shifted, job.plan), job.plan
    count = len(found.papers)
    lines = [
        f"Papers needed, cutting to {show(plan.accuracy, plan.unit)}: "
        f"{count} for {sum(map(len, found.papers))} layers (tile --share prints those)"
    ]
    for layer, steps in found.steps.items():
        said = ", ".join(f"{seam} {plan.said(step)}" for seam, step in steps if step)
        lines.append(f"{layer}, both edges of a seam outwards at the waist: {said or 'none'}")
    return listing(lines[0], [*found.words(plan), *lines[1:]])


def _next_steps(job: Job, shifted: Shifted) -> list[str]:
    at_waist = [step for step in rolling_guide(shifted) if step.level == "waist"]
    most = max(at_waist, key=lambda step: step.angle)
    trial = "cut a mock-up of one panel in all layers: flat on the table the edges should meet"
    if needs_former(most):
        trial = (
            f"cut a mock-up of {most.panel} in all layers and lay it over something round, "
            f"{former_length(most, job.units)} across: there the edges meet at the waist, over a "
            "hand they do not"
        )
    return [
        "print one file at 100 % (no fit to page) and measure both test squares",
        "walk one seam of each layer along its mate before cutting cloth",
        trial,
        f"the drafted size is kept on {job.stack.drafted}; layers outside it are larger, layers "
        "inside it smaller",
    ]


def tile_text(
    prints: Sequence[PrintedFile],
    written: Sequence[str],
    options: PageOptions,
    head: str = "",
    doubts: Sequence[str] = (),
) -> str:
    """Return the summary as text.

    *written*: paths of the files, in the same order. *head*: what pattern was printed, if it is
    known. *doubts*: what is to be looked at in it.
    """
    rows = []
    for item in prints:
        grid = item.printed.grid
        rows.append(
            [
                item.title,
                str(item.printed.pages),
                "-" if grid is None else f"{grid.columns} x {grid.rows}",
                sheet_size(*item.printed.size, options.unit),
            ]
        )
    return paragraphs(
        head,
        table(["print", "pages", "across x down", "size or taped size"], rows),
        _paper(prints, options),
        listing("Look at", [*doubts, *(w for item in prints for w in item.warnings)]),
        listing("Written", list(written)),
        listing("Next", _next(prints)),
    )


def _paper(prints: Sequence[PrintedFile], options: PageOptions) -> str:
    """How much paper it takes."""
    if options.paper.is_roll:
        length, wide = sum(item.printed.size[1] for item in prints), options.paper.width
        if options.unit == "in":
            return f"{length / 914.4:.2f} yd of a roll {show(wide, 'in')} wide."
        width = f"{wide:g} mm" if options.unit == "mm" else show(wide, options.unit)
        return f"{length / 1000.0:.2f} m of a roll {width} wide."
    total = sum(item.printed.pages for item in prints)
    words = f"{total} page{'' if total == 1 else 's'} of {options.paper.name} in all"
    if any(item.printed.grid for item in prints):
        words += ", the first page of each print with its map among them"
    return f"{words}; one sheet of paper a page, printed on one side."


def _next(prints: Sequence[PrintedFile]) -> list[str]:
    steps = ["print at 100 % (no fit to page) and measure both test squares before you cut"]
    if any(item.printed.grid and item.printed.grid.pages > 1 for item in prints):
        steps.append("tape the pages so that the long arms of the crosses run on")
    return steps


_MOST_NAMES: Final = 5
"""Names beside a warning."""

_MOST_WARNINGS: Final = 1_000
_MOST_FAILURES: Final = 1_000
"""Warnings and failures that are told; the summary has all."""

_TITLES: Final[dict[Status, str]] = {
    "done": "done",
    "unchanged": "unchanged since the last run",
    "failed": "failed",
}


class BatchTally:
    """What a batch comes to, counted while it runs: it may have a million jobs.

    Examples
    --------
    >>> from panelshift.batch import Outcome
    >>> tally = BatchTally()
    >>> for outcome in (Outcome("Ann", "done"), Outcome("Bo", "unchanged")):
    ...     tally.add(outcome)
    >>> print(tally.text("sizes"))
    Jobs                            Number
    ----------------------------  --------
    done                                 1
    unchanged since the last run         1
    failed                               0
    <BLANKLINE>
    2 of 2 jobs have their files, each in a directory of its own, in sizes.
    """

    def __init__(self) -> None:
        self.counts: Counter[Status] = Counter()
        self._failed: list[Outcome] = []
        self._warned: dict[str, tuple[list[str], int]] = {}

    def add(self, outcome: Outcome) -> None:
        """Count one more."""
        self.counts[outcome.status] += 1
        if outcome.status == "failed" and len(self._failed) < _MOST_FAILURES:
            self._failed.append(outcome)
        for words in outcome.warnings:
            names, count = self._warned.get(words, ([], 0))
            if len(self._warned) < _MOST_WARNINGS or words in self._warned:
                self._warned[words] = ([*names, outcome.name][:_MOST_NAMES], count + 1)

    def warnings(self) -> dict[str, str]:
        """Every warning once, with the jobs it is of: the rows of a table mostly share theirs."""
        return {
            words: ", ".join(names) + (f" and {count - len(names)} more" * (count > len(names)))
            for words, (names, count) in self._warned.items()
        }

    def text(self, out: str) -> str:
        """Counts, what to look at, and failures; *out*: directory of the batch."""
        rows = [[title, str(self.counts[status])] for status, title in _TITLES.items()]
        total, failed = sum(self.counts.values()), self.counts["failed"]
        words = [f"{one.name}: " + one.error.replace("\n", "\n    ") for one in self._failed]
        if failed > len(words):
            words.append(f"and {failed - len(words)} more: see summary.csv")
        return paragraphs(
            table(["Jobs", "Number"], rows),
            listing("Look at", [f"{of}: {said}" for said, of in self.warnings().items()]),
            listing("Failed", words),
            f"{total - failed} of {total} jobs have their files, each in a directory of its own, "
            f"in {out}." + (" Mend what failed and run the batch again." if failed else ""),
        )

    def data(self) -> dict[str, Any]:
        """How many jobs were done, and the first failures; the summary has all."""
        return {
            "jobs": {status: self.counts[status] for status in _TITLES},
            "failed": [{"name": one.name, "error": one.error} for one in self._failed],
        }
