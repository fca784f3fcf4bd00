"""A sentence: its English text, and that only templates are translated."""

import pytest

from evidence_app.sentence import NOTHING, counted, joined, recorded, sentence, to_fields

GERMAN = {
    "{who} gave the reason “{reason}” at {place}": "{who} gab bei {place} den Grund „{reason}“ an",
    "the seam": "der Fuge",
    "residue": "Rückstand",
    "{count} item": "{count} Ding",
    "{count} items": "{count} Dinge",
}


def in_german(said):
    return said.said(GERMAN.__getitem__, lambda one, many, n: GERMAN[one if n == 1 else many])


def test_its_text_is_english():
    assert str(sentence("width {value:.2f} mm", value=0.123)) == "width 0.12 mm"


def test_a_persons_words_are_never_translated():
    said = sentence(
        "{who} gave the reason “{reason}” at {place}",
        who="{count} item",
        reason="residue",
        place=sentence("the seam"),
    )
    assert in_german(said) == "{count} item gab bei der Fuge den Grund „residue“ an"


def test_a_count_chooses_its_form():
    assert [str(counted("{count} item", "{count} items", n)) for n in (0, 1, 2)] == [
        "0 items",
        "1 item",
        "2 items",
    ]


def test_joined_sentences_are_each_translated():
    both = joined("; ", [sentence("the seam"), counted("{count} item", "{count} items", 2)])
    assert in_german(both) == "der Fuge; 2 Dinge"


def test_nothing_is_false_and_empty():
    assert not NOTHING and str(NOTHING) == ""


def test_a_fraction_takes_the_form_of_several_by_a_whole_number():
    asked = []
    for count in (1.0, 0.5, 1.5):
        counted("{count:g} s", "{count:g} ss", count).said(str, lambda one, many, n: asked.append(n) or one)
    assert [(type(n), n) for n in asked] == [(int, 1), (int, 2), (int, 2)]


TOLD = "The seam, 2 mm."
WORDING = [{"template": "the seam", "values": {}}, {"template": "{count} items", "values": {"count": 2}}]


def in_some_german(said):
    return said.said(lambda text: GERMAN.get(text, text), None)


def test_what_was_recorded_is_worded_again_from_its_templates_and_values():
    said = recorded({"sentence": TOLD, "wording": WORDING})
    assert (str(said), in_some_german(said)) == (TOLD, "Der Fuge. 2 Dinge.")


def test_it_ends_as_the_recorded_text_does():
    assert in_some_german(recorded({"sentence": "The seam", "wording": WORDING})) == "Der Fuge. 2 Dinge"


@pytest.mark.parametrize(
    "wording",
    [
        None,
        "the seam",
        [7],
        [{"template": "the seam"}],
        [{"template": "", "values": {}}],
        [{"template": "not of this app", "values": {}}],
        [{"template": "{count} items", "values": {}}],
        [*WORDING, {"template": "{who}", "values": {"who": "anybody"}}],
    ],
)
def test_a_wording_that_is_not_of_this_app_leaves_the_text_as_recorded(wording):
    assert in_some_german(recorded({"sentence": TOLD, "wording": wording})) == TOLD


def test_kept_templates_word_the_same_sentence():
    said = sentence("{count} items", count=2)
    assert in_some_german(recorded({"sentence": str(said), "wording": to_fields(said)})) == "2 Dinge"
