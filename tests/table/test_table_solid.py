"""The corset in three dimensions as the page gets it, and as the server draws it."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from lxml import etree

from panelshift.table.solid_view import _mark

from .client import Table, inner, sample, tree


@pytest.fixture(scope="module")
def table(tmp_path_factory) -> Table:
    return sample(tmp_path_factory.mktemp("solid"))


def test_the_page_gets_points_of_every_panel_and_layer(table) -> None:
    data = table.get("/solid.json").json()
    assert data["layers"] == ["lining", "coutille", "interlining", "brocade"]
    assert len(data["panels"]) == 12
    count = data["columns"] * data["rows"]
    for panel in data["panels"]:
        assert len(panel["points"]) == len(panel["outward"]) == 3 * count
        lengths = np.linalg.norm(np.reshape(panel["outward"], (-1, 3)), axis=1)
        assert lengths == pytest.approx(1.0, abs=1e-3)
        assert [own["layer"] for own in panel["layers"]] == [0, 1, 2, 3]
        for own in panel["layers"]:
            for name in ("growth", "strain"):
                assert len(own[name]) == count
                assert max(map(abs, own[name])) <= data["most"][name] * (1.0 + 1e-3)
    # On the wearer's left the outer ones step back towards the front.
    assert [panel["left_on"] for panel in data["panels"]] == [4] * 6 + [1, 2, 2, 3, 4, 4]


def test_the_still_picture_follows_its_controls(table) -> None:
    one = table.get("/look/solid?layer=brocade&by=class&aside=180&lift=1").text
    assert "brocade alone" in inner(one, "solid-words")
    assert "1 times as far from coutille" in inner(one, "solid-words")
    still = tree(one).xpath("//*[@id='solid-still']/img")[0]
    picture = etree.fromstring(table.get(still.get("src")).content)
    assert "turned by 180°" in picture.get("aria-label")
    # The white ground lies under all else.
    assert (picture[0].tag.rpartition("}")[2], picture[0].get("width")) == ("rect", "100%")
    names = [t.text for t in picture.iter("{*}text")]
    # Seen from behind: the panels at the lacing have their names.
    assert names.count("6") == 2
    assert "1" not in names
    words = " ".join(tree(one).xpath("//*[@id='solid-key']//text()"))
    assert "front panels" in words
    strained = table.get("/look/solid?by=strain&layer=<b>&lift=900&above=x").text
    assert "All layers" in inner(strained, "solid-words")
    assert "50 times" in inner(strained, "solid-words")
    assert "% must stretch" in " ".join(tree(strained).xpath("//*[@id='solid-key']//text()"))
    rows = tree(strained).xpath("//*[@id='solid']//tr | //tbody/tr")
    assert any(
        "brocade" in "".join(row.itertext()) and "+1.1%" in "".join(row.itertext()) for row in rows
    )


def test_the_still_picture_is_fetched_anew_whenever_it_shows_another_corset(table) -> None:
    """A browser that knows a picture's address does not ask for it again."""
    facts = table.session.state().facts.value
    first, *others = facts.laid
    turned = facts.laid_layers[0][-1]
    # As wide in all as it was: two strips have changed places.
    turned = replace(turned, growth=turned.growth[::-1])
    corsets = [
        SimpleNamespace(laid=laid, laid_layers=layers)
        for laid, layers in (
            (facts.laid, facts.laid_layers),
            ((replace(first, curvature="side"), *others), facts.laid_layers),
            ((replace(first, points=first.points + 1.0), *others), facts.laid_layers),
            (facts.laid, ((*facts.laid_layers[0][:-1], turned), *facts.laid_layers[1:])),
        )
    ]
    assert len({_mark(corset) for corset in corsets}) == len(corsets)
    assert _mark(facts) == _mark(corsets[0])


def test_the_picture_as_a_file_of_its_own(table, tmp_path) -> None:
    answer = table.get("/solid.svg?layer=lining")
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert "attachment" in answer.headers["content-disposition"]
    root = etree.fromstring(answer.content)
    assert root.get("width").endswith("mm")
    # A panel has seven runs of colour up each of its six strips, those seen from inside but one.
    filled = [p for p in root.iter("{*}path") if p.get("fill") != "none"]
    assert 12 * 6 < len(filled) < 12 * 6 * 7
    empty = Table(tmp_path)
    assert empty.get("/solid.svg").status_code == 404
    assert empty.get("/solid.json").json() == {}


def test_the_layers_wrapped_and_flat(table) -> None:
    alike = table.get("/look/wrap").text
    assert "brocade strains most in" in inner(alike, "wrap-words")
    assert "lining has" in inner(alike, "wrap-words")
    own = table.get("/look/wrap?cut=100&wrapped=100&level=hip").text
    assert "nothing strains" in inner(own, "wrap-words")
    flat = table.get("/look/wrap?cut=100&wrapped=0&level=nowhere").text
    assert "brocade has" in inner(flat, "wrap-words")
    assert "At the waist" in "".join(tree(flat).xpath("//caption/text()"))
    whole = table.get("/look?look=wrap&level=bust&cut=35").text
    slider = tree(whole).xpath("//*[@id='wrap-cut']")[0]
    assert slider.get("value") == "35"
    assert tree(whole).xpath("//*[@id='wrap-level']/option[@selected]/text()") == ["bust"]


def test_the_card_holds_layers_and_sizes_and_no_name_unasked(table) -> None:
    facts = table.session.state().facts.value
    root = etree.fromstring(table.get("/card.svg").content)
    words = [text.text for text in root.iter("{*}text")]
    assert [root.get("width"), root.get("height")] == ["1080", "1350"]
    assert "A corset in 4 layers" in words
    assert {"lining", "coutille", "interlining", "brocade"} <= set(words)
    place = words.index("waist")
    assert words[place : place + 3] == ["waist", "687", "699"]
    title = facts.basis.plan.title
    assert not any(title in word for word in words)
    named = etree.fromstring(table.get("/card.svg?named=1").content)
    assert title in [text.text for text in named.iter("{*}text")]
    tall, wide = 1350.0, 1080.0
    for text in root.findall("{*}text"):
        assert 0.0 < float(text.get("x")) < wide
        assert 0.0 < float(text.get("y")) < tall
        assert float(text.get("font-size")) >= 32.0
