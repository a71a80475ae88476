"""Short texts of the shop sheet, as they are to stand on it (self)."""

from __future__ import annotations

from flatgen.paper.shop_sheet import flat_words, view_words


def test_places_and_names() -> None:
    assert (flat_words.entry("45.2", ["bend A"]), flat_words.entry("0", [])) == ("45.2  bend A", "0")
    assert flat_words.corner_name(3) == "c3"
    assert flat_words.straight_place(0, "45.2") == "x 45.2"
    assert flat_words.slanted_place(("1", "2"), ("3", "4")) == "(1, 2) to (3, 4)"


def test_what_has_no_room() -> None:
    assert flat_words.unlettered_note(["bend C"]) == "No room to letter bend C: see the table."
    assert flat_words.cut_out_note([], [1, 2, 3, 7]).endswith("see the tables: corners c1 to c3, c7.")
    assert flat_words.cut_out_note(range(1, 40, 2), []).endswith("see the tables: 20 openings.")


def test_heads_of_views() -> None:
    assert (view_words.heading(0.5), view_words.detail(1.0)) == ("Formed part, scale 1:2", "A (1:1)")
