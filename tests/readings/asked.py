"""What the maker says of those drawings of the corpus that do not say it themselves."""

from __future__ import annotations

from typing import Final

from panelshift.draft import Gore, Reading, StandsOn

ASKED: Final[dict[str, Reading]] = {
    "allowance-drawn-round-gores": Reading(
        allowance_drawn={"seam": 10.0},
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "corner-given-below-the-waist": Reading(
        corners={
            "side": {
                "back_top": (
                    93.0,
                    250.0,
                )
            }
        }
    ),
    "corners-given-on-a-panel-of-four": Reading(
        halves="half",
        corners={
            "panel 2": {
                "front_top": (
                    140.0,
                    80.0,
                ),
                "back_top": (
                    193.0,
                    80.0,
                ),
                "back_bottom": (
                    197.0,
                    300.0,
                ),
                "front_bottom": (
                    133.0,
                    300.0,
                ),
            }
        },
    ),
    "gore-across-the-waist-with-its-waistline": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "gore-and-a-piece-on-one-panel": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "side",
                    "back",
                ),
            ),
        ),
        stands_on=(StandsOn(upper="yoke", lower="side"),),
    ),
    "gore-beside-a-panel-that-there-is-not": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "cup",
                ),
            ),
        ),
    ),
    "gore-between-panels-that-are-not-neighbours": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "back",
                ),
            ),
        ),
    ),
    "gore-called-after-the-bust-in-pieces": Reading(
        halves="half",
        gores=(
            Gore(
                panel="bust gore",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "gore-crossed-by-a-waistline-that-it-does-not-reach": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "gore-in-a-seam-and-in-a-slit": Reading(halves="half", gores=(Gore(panel="gore"),)),
    "gore-longer-than-its-slit": Reading(
        halves="half", gores=(Gore(panel="gore", slit="hip slit"),)
    ),
    "gore-longer-than-to-the-waist": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "gore-named-for-one-half-and-one-left-out": Reading(
        leave_out=("b",),
        gores=(
            Gore(
                panel="a",
                between=(
                    "left 1",
                    "left 2",
                ),
            ),
        ),
    ),
    "gore-named-twice": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
            ),
            Gore(
                panel="gore",
                between=(
                    "side",
                    "back",
                ),
            ),
        ),
    ),
    "gore-on-its-side-beyond-the-page": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "gore-that-is-an-open-line": Reading(
        halves="half",
        gores=(
            Gore(
                panel="open",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "gore-that-its-upright-crosses-more-than-twice": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "gore-whose-tip-is-at-no-level": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
                tip="knee",
            ),
        ),
    ),
    "gore-whose-tip-is-given-by-its-height": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
                tip="-30 mm",
            ),
        ),
    ),
    "gore-whose-tip-is-given-near-the-hem": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
                tip="-149 mm",
            ),
        ),
    ),
    "gore-with-a-line-beyond-the-waist": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "gore-with-a-slanting-hip-line": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "gore-with-edges-of-unlike-lengths": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "gore-with-two-tips": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "gores-that-meet-in-a-seam": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
                tip="-3 mm",
            ),
            Gore(
                panel="cup",
                between=(
                    "front",
                    "side",
                ),
                tip="+1 mm",
            ),
        ),
    ),
    "letters-out-of-order": Reading(
        order=(
            "b",
            "a",
            "c",
        )
    ),
    "level-that-no-line-is-called-by": Reading(halves="half", level="knee"),
    "nothing-there-of-what-is-left-out": Reading(leave_out=("yoke",)),
    "page-in-px-at-72-to-the-inch": Reading(drafted_waist=480.0),
    "page-shrunk-by-a-converter-and-upside-down": Reading(halves="half"),
    "panel-alone-among-choices": Reading(waistlines=("path[3]",)),
    "panel-that-stands-on-a-yoke": Reading(
        halves="half",
        stands_on=(
            StandsOn(upper="yoke", lower="side"),
            StandsOn(upper="back", lower="yoke"),
        ),
    ),
    "panels-on-each-other": Reading(halves="half"),
    "piece-that-there-is-not": Reading(
        halves="half", stands_on=(StandsOn(upper="cup", lower="side"),)
    ),
    "plumb-line-that-leans": Reading(halves="half"),
    "seam-that-goes-on-beyond-a-sharp-bend": Reading(halves="half"),
    "sides-of-unlike-names": Reading(drafted_waist=916.0),
    "sizes-in-unlike-places-on-panels": Reading(size="1"),
    "slit-at-the-place-of-another": Reading(
        halves="half",
        gores=(
            Gore(panel="gore", slit="hip slit"),
            Gore(panel="cup", slit="other"),
        ),
    ),
    "slit-in-a-panel-across-the-centre-front": Reading(
        order=(
            "left",
            "middle",
            "right",
        ),
        halves="full",
        gores=(Gore(panel="gore", slit="hip slit"),),
    ),
    "slit-into-an-edge": Reading(halves="half", gores=(Gore(panel="gore", slit="hip slit"),)),
    "slit-that-crosses-the-hem-more-than-once": Reading(
        halves="half", gores=(Gore(panel="gore", slit="hip slit"),)
    ),
    "slit-that-there-is-not": Reading(halves="half", gores=(Gore(panel="gore", slit="slot"),)),
    "slit-that-turns-back": Reading(halves="half", gores=(Gore(panel="gore", slit="hip slit"),)),
    "slit-to-the-waist": Reading(halves="half", gores=(Gore(panel="gore", slit="hip slit"),)),
    "slits-in-both-halves": Reading(
        gores=(
            Gore(panel="a", slit="a slit"),
            Gore(panel="b", slit="b slit"),
        )
    ),
    "stitch-lines-along-the-sides-alone": Reading(halves="half"),
    "three-pieces-on-each-other-with-marks": Reading(
        halves="half",
        stands_on=(
            StandsOn(upper="side", lower="hem"),
            StandsOn(upper="yoke", lower="side"),
        ),
    ),
    "two-corners-given-at-one-place": Reading(
        halves="half",
        corners={
            "side": {
                "front_top": (
                    34.0,
                    80.0,
                ),
                "back_top": (
                    34.0,
                    80.0,
                ),
            }
        },
    ),
    "two-gores-open-at-the-bottom-of-one-seam": Reading(
        halves="half",
        gores=(
            Gore(
                panel="gore",
                between=(
                    "front",
                    "side",
                ),
            ),
            Gore(
                panel="twin",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "two-outlines-called-by-the-gores-name": Reading(
        halves="half",
        gores=(
            Gore(
                panel="twin gore",
                between=(
                    "front",
                    "side",
                ),
            ),
        ),
    ),
    "two-pieces-each-on-the-other": Reading(
        halves="half",
        stands_on=(
            StandsOn(upper="yoke", lower="side"),
            StandsOn(upper="side", lower="yoke"),
        ),
    ),
    "waist-dips-to-the-front-and-the-hip-is-level": Reading(halves="half", level="hip"),
    "waist-that-slants-above-a-level-hip": Reading(halves="half"),
    "waistline-across-a-gore-in-a-slit": Reading(
        halves="half", gores=(Gore(panel="gore", slit="hip slit"),)
    ),
    "waistline-named-that-there-is-not": Reading(waistlines=("line9",)),
    "yoke-that-the-upright-crosses-more-than-twice": Reading(
        halves="half", stands_on=(StandsOn(upper="yoke", lower="side"),)
    ),
    "yoke-wider-than-what-it-stands-on": Reading(
        halves="half", stands_on=(StandsOn(upper="yoke", lower="side"),)
    ),
    "yokes-whose-seams-across-do-not-meet": Reading(
        halves="half",
        stands_on=(
            StandsOn(upper="front yoke", lower="front"),
            StandsOn(upper="side yoke", lower="side"),
        ),
    ),
}
