"""The style of all figures: contrast, sizes, colours, maps, and the words that files carry."""

import base64
import colorsys
import re
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest
from cmcrameri import cm
from PIL import Image

from workflow import figures
from workflow.figure_files import read_words
from workflow.figures import FigureText, new_figure, nice_ends, nice_limit, save_figure
from workflow.figures_ligament import COLOURS

ROOT = Path(__file__).resolve().parents[2]
DRAWN = sorted(p for p in (ROOT / "workflow").glob("figures_*.py"))
SVG = "{http://www.w3.org/2000/svg}"
TEXTS = [*figures.LINE_COLOURS, figures.PASSIVE_COLOUR, figures.OUTLINE_COLOUR]
LINES = [*TEXTS, figures.TUBE_COLOUR]
OKABE_ITO = {
    "FORCE_COLOUR": "#0072B2",
    "COUPLE_COLOUR": "#D55E00",
    "THIRD_COLOUR": "#009E73",
    "FOURTH_COLOUR": "#CC79A7",
    "FIFTH_COLOUR": "#E69F00",
}


def channels(colour: str) -> np.ndarray:
    return np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])


def contrast_on_white(colour: str) -> float:
    """Contrast ratio of WCAG 2 from relative luminance, sRGB."""
    share = channels(colour)
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return 1.05 / (float(linear @ [0.2126, 0.7152, 0.0722]) + 0.05)


def test_contrast_is_that_of_the_standard() -> None:
    """WCAG 2: black on white 21, and #767676 is the palest grey that reaches 4.5."""
    assert contrast_on_white("#000000") == pytest.approx(21.0)
    assert contrast_on_white("#767676") > 4.5 > contrast_on_white("#777777")


@pytest.mark.parametrize("colour", TEXTS)
def test_text_stands_out_from_white(colour: str) -> None:
    assert contrast_on_white(colour) >= 4.5


@pytest.mark.parametrize("colour", LINES)
def test_lines_stand_out_from_white(colour: str) -> None:
    assert contrast_on_white(colour) >= 3.0


@pytest.mark.parametrize(("name", "published"), OKABE_ITO.items())
def test_hues_are_those_of_the_published_set(name: str, published: str) -> None:
    """Okabe & Ito (2002), the values that matplotlib keeps under their name."""
    own = colorsys.rgb_to_hls(*channels(getattr(figures, name)))
    theirs = colorsys.rgb_to_hls(*channels(published))
    assert own[0] == pytest.approx(theirs[0], abs=0.012)
    assert own[1] <= theirs[1] + 1e-12
    if "okabe_ito" in matplotlib.color_sequences:
        known = matplotlib.color_sequences["okabe_ito"]
        assert any(np.allclose(channels(published), colour, atol=0.003) for colour in known)


@pytest.mark.parametrize("path", DRAWN, ids=lambda path: path.stem)
def test_sizes_and_widths_come_from_one_home(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    own = re.findall(r"(?:fontsize|labelsize|\blw|linewidths?)\"?[=:] ?[1-9][0-9.]*", text)
    own += re.findall(r"(?:fontsize|labelsize|\blw|linewidths?)\"?[=:] ?0\.[0-9]+", text)
    assert not own


def test_no_text_is_smaller_than_can_be_read() -> None:
    sizes = [getattr(figures, f"{name}_PT") for name in ("LEAST", "NOTE", "TEXT", "TITLE", "HEAD")]
    assert sizes == sorted(sizes)
    assert sizes[0] >= 7


@pytest.mark.parametrize("path", DRAWN, ids=lambda path: path.stem)
def test_maps_are_perceptually_even(path: Path) -> None:
    """Crameri's maps or matplotlib's own even ones; none of the rainbows."""
    used = re.findall(r"\bcm\.(\w+)|cmap=\"(\w+)\"", path.read_text(encoding="utf-8"))
    allowed = {"vik", "batlow", "devon_r", "viridis", "cividis"}
    assert {a or b for a, b in used} <= allowed


def test_the_map_of_stress_is_alike_on_both_sides_and_palest_at_nothing() -> None:
    light = np.array(COLOURS(np.linspace(0, 1, 101)))[:, :3] @ [0.2126, 0.7152, 0.0722]
    assert COLOURS is cm.vik
    assert abs(int(light.argmax()) - 50) <= 2
    assert light[0] == pytest.approx(light[-1], abs=0.1)


def test_no_kind_of_cell_is_told_by_its_fill_alone() -> None:
    hatches = [hatch for _, hatch in figures.CELL_LOOKS]
    assert all(hatches)
    assert len({hatch[0] for hatch in hatches}) == len(hatches)


# Ends of scales


@pytest.mark.parametrize("value", [1e-4, 0.9, 1.0, 18.7, 7300.0])
def test_a_round_limit_holds_the_value_without_waste(value: float) -> None:
    limit = nice_limit(value)
    assert value <= limit <= 1.34 * value
    assert float(f"{limit:.2g}") == pytest.approx(limit)


def test_a_scale_of_nothing_has_ends() -> None:
    assert nice_limit(0.0) == 1.0
    low, high = nice_ends(3.0, 3.0)
    assert low < 3.0 < high


def test_round_ends_hold_both_values() -> None:
    low, high = nice_ends(0.123, 0.987)
    assert (low, high) == pytest.approx((0.1, 1.0))
    assert nice_ends(-0.987, -0.123) == pytest.approx((-1.0, -0.1))


# Words in files

SAID = FigureText("Force < couple", "A line from 0 to 1 N·mm & back.", "Rises by 2 σ.")


@pytest.fixture
def files(tmp_path: Path) -> dict[str, Path]:
    figure = new_figure(8.0, 2.0)
    axes = figure.subplots()
    axes.plot([0, 1])
    axes.imshow(np.random.default_rng(1).random((40, 40, 3)), extent=(0, 1, 0, 1))
    paths = {kind: tmp_path / f"a.{kind}" for kind in ("svg", "png")}
    save_figure(figure, *map(str, paths.values()), **SAID.in_file())
    return paths


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_both_files_carry_title_and_description(files: dict[str, Path], kind: str) -> None:
    assert read_words(files[kind]) == (SAID.title, f"{SAID.shows} {SAID.caption}")


def test_a_screen_reader_meets_title_and_description_first(files: dict[str, Path]) -> None:
    root = ElementTree.parse(files["svg"]).getroot()
    first, second = list(root)[:2]
    assert (first.tag, second.tag) == (f"{SVG}title", f"{SVG}desc")
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == f"{first.get('id')} {second.get('id')}"


def test_two_figures_of_a_page_have_ids_of_their_own(tmp_path: Path) -> None:
    ids = []
    for name in ("one", "two"):
        path = tmp_path / f"{name}.svg"
        save_figure(new_figure(8.0, 1.0), str(path), title=name, description="Nothing.")
        ids.append(ElementTree.parse(path).getroot().get("aria-labelledby"))
    assert ids[0] != ids[1]


@pytest.mark.parametrize("words", [("", "Shows."), ("Title", " ")])
def test_a_figure_without_words_is_refused(tmp_path: Path, words: tuple[str, str]) -> None:
    path = tmp_path / "a.svg"
    with pytest.raises(ValueError, match="needs a title and a description"):
        save_figure(new_figure(8.0, 1.0), str(path), title=words[0], description=words[1])
    assert not path.exists()


def test_other_kinds_of_file_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"a\.jpg: figures are written as \.svg and \.png"):
        save_figure(new_figure(8.0, 1.0), str(tmp_path / "a.jpg"), title="a", description="b")


def test_a_file_without_words_says_so(tmp_path: Path) -> None:
    path = tmp_path / "bare.svg"
    path.write_text('<svg xmlns="http://www.w3.org/2000/svg"/>', encoding="utf-8")
    with pytest.raises(ValueError, match=r"bare\.svg: has no title"):
        read_words(path)


def test_pictures_are_packed_in_both_files(files: dict[str, Path]) -> None:
    with Image.open(files["png"]) as picture:
        assert picture.mode == "P"
        assert picture.convert("RGB").getpixel((1, 1)) == (255, 255, 255)
    (inside,) = re.findall(r"base64,([^\"]+)", files["svg"].read_text(encoding="utf-8"))
    assert Image.open(BytesIO(base64.b64decode(inside))).mode == "P"


def test_the_same_figure_is_the_same_file(files: dict[str, Path], tmp_path: Path) -> None:
    before = {kind: path.read_bytes() for kind, path in files.items()}
    figure = new_figure(8.0, 2.0)
    axes = figure.subplots()
    axes.plot([0, 1])
    axes.imshow(np.random.default_rng(1).random((40, 40, 3)), extent=(0, 1, 0, 1))
    save_figure(figure, *map(str, files.values()), **SAID.in_file())
    assert {kind: path.read_bytes() for kind, path in files.items()} == before


# Rules and scripts


def rules_that_draw() -> dict[str, str]:
    """Output of every rule that names a picture, by rule."""
    found = {}
    for path in (ROOT / "workflow" / "rules").glob("*.smk"):
        text = path.read_text(encoding="utf-8")
        for rule in re.split(r"^rule ", text, flags=re.MULTILINE)[1:]:
            (output,) = re.findall(r"^    output:\n(.*?)^    \w+:", rule, re.S | re.M) or ("",)
            if re.search(r"\.(svg|png)\"", output):
                found[rule.split(":")[0]] = output
    return found


def test_rules_that_draw_are_found() -> None:
    assert {"appliance_3d", "ligament_stress", "course", "study_teeth", "search"} <= set(
        rules_that_draw()
    )


@pytest.mark.parametrize(("name", "output"), rules_that_draw().items())
def test_every_rule_that_draws_writes_svg_and_png(name: str, output: str) -> None:
    stems = {kind: sorted(re.findall(rf'"([^"]+)\.{kind}"', output)) for kind in ("svg", "png")}
    assert stems["svg"] == stems["png"]


def test_every_script_that_saves_a_figure_gives_it_words() -> None:
    for path in (ROOT / "workflow").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        for call in re.findall(r"save_(?:figure|template)\((?:[^()]|\([^()]*\))*\)", text):
            if not call.endswith("str) -> None") and "title: str" not in call:
                assert "**" in call or "title=" in call, f"{path.name}: {call}"
