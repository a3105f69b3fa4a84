"""What a batch makes of a job: the same files, byte for byte, as the single commands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from importlib import import_module
from typing import Final, Literal

from ..errors import JobError
from ..job import Job, cut
from ..printing import PageOptions
from ..shift import Shifted

Product = Literal["cut", "tile", "fit"]
PRODUCTS: Final[tuple[Product, ...]] = ("cut", "tile", "fit")


@dataclass(frozen=True)
class Making:
    """One product with its options.

    *pages*: for tiles.
    """

    product: Product
    pages: PageOptions | None = None

    @property
    def key(self) -> str:
        """What tells it apart in a job's record: pages on two papers lie beside each other."""
        return self.product if self.pages is None else f"{self.product} {self.pages.paper.name}"

    @property
    def maker(self) -> str:
        """What a directory remembers as the maker of its files.

        Cutting files are those of the single command, and one set with them. Pages, of which there
        may be more than one paper, are not those that the single command keeps there.
        """
        return "cut" if self.product == "cut" else f"batch {self.key}"

    @property
    def options(self) -> dict[str, object]:
        """Plain data of all that decides its files besides the job."""
        # All of the pages' options, whichever they are one day.
        return {"product": self.product} | ({} if self.pages is None else asdict(self.pages))


@dataclass(frozen=True, eq=False)
class Made:
    """Files of one product, in memory."""

    files: Mapping[str, bytes]
    warnings: tuple[str, ...] = ()


def makings(products: Sequence[str], pages: PageOptions | None = None) -> tuple[Making, ...]:
    """Put products and page options together, in the order of `PRODUCTS`, each once.

    *pages*: none for A4 with the usual margins.

    Raises `JobError` if there is none, or an unknown one.

    Examples
    --------
    >>> [making.key for making in makings(["tile", "cut"])]
    ['cut', 'tile a4']
    """
    strange = [name for name in products if name not in PRODUCTS]
    if strange or not products:
        raise JobError(
            f"unknown product {strange[0]!r}" if strange else "no product is asked for",
            remedy=f"Use one or more of: {', '.join(PRODUCTS)}.",
            element="products",
        )
    if pages is None:
        from ..printing import parse_paper

        pages = PageOptions(parse_paper("a4"))
    return tuple(
        Making(name, pages if name == "tile" else None) for name in PRODUCTS if name in products
    )


def make(job: Job, making: Making, shifted: Shifted | None = None) -> Made:
    """Make one product of a job, in memory; all products of a job share one shift.

    Raises `PanelshiftError` for see `panelshift.job.cut`, `panelshift.job.result.print_job` and
    `panelshift.job.result.fit_job`.
    """
    # Imported where needed: a batch that only cuts has no use for fonts and templates.
    if making.pages is not None:
        from ..job.result import print_job

        prints = print_job(job, making.pages, shifted)
        return Made(
            {item.name: item.printed.data for item in prints},
            tuple(words for item in prints for words in item.warnings),
        )
    if making.product == "fit":
        from ..fit.fact_rows import facts_csv, facts_json
        from ..fit.html_page import fit_page
        from ..job.result import fit_job

        facts = fit_job(job, shifted)
        return Made(
            {
                "fit.html": fit_page(facts),
                "fit.json": facts_json(facts),
                "fit.csv": facts_csv(facts),
            }
        )
    result = cut(job, shifted)
    return Made(result.files, result.warnings)


_NEEDED: Final[Mapping[Product, tuple[str, ...]]] = {
    "cut": (),
    "tile": ("..printing.layer_prints",),
    "fit": ("..fit.fact_rows", "..fit.html_page", "..fit.facts"),
}
"""Modules that `make` imports for a product by itself."""


def preload(making: Making) -> None:
    """Import all that a product needs, so that the first job does not pay for it."""
    for name in _NEEDED[making.product]:
        import_module(name, __package__)
