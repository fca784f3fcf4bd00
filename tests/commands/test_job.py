"""A whole repair from the command line, as a technician without the tablet would do it."""

from __future__ import annotations

import shutil

from evidence_app.practice.microphone import speech
from tests.commands.bench import good_photo, step_list, write_sound


def test_a_repair_from_opening_to_a_package_that_holds(opened, tmp_path):
    opened.does("job hold job")
    opened.does("job reading job leaf 0.10")
    opened.does("job count job rim-screws 4")
    (tmp_path / "slot.jpg").write_bytes(good_photo())
    opened.does("job photo job slot file:slot.jpg")
    opened.does("job finding job clear")
    assert "can be closed" in opened.does("job note job --text Done.")
    opened.does("job close job")
    opened.does("keys make")
    sealed = opened.does("seal job --out packages")
    package = next((tmp_path / "packages").glob("*.zip"))
    assert "fingerprint" in sealed and opened.does(f"verify {package}")


def test_going_on_is_refused_while_something_is_owed(opened):
    assert "leaf" in opened.refuses("job close job").lower()


def test_pieces_are_counted_and_a_missing_one_stops_the_repair(terminal, tmp_path):
    (tmp_path / "list.toml").write_text(step_list(), "utf-8")
    assert "Count out: 4 × Screws" in terminal.does("steps show list.toml")
    terminal.does("job open list.toml --serial H7-1 --claim K-1 --technician Lind --folder job")
    terminal.does("job acknowledge job sprung-stand")
    terminal.does("job tick job lamp")
    assert "count rim-screws" in terminal.does("job next job")
    assert "3 counted, 4 listed" in terminal.refuses("job count job rim-screws 3")
    assert "pieces-counted" in terminal.does("job count job rim-screws 3 --reason 'one stays in the rim'")
    assert "repair-stopped stopped" in terminal.does("job stop job --missing rim-screws")


def test_a_stop_asks_for_the_supervisor_before_the_job_closes(opened, tmp_path):
    opened.does("job stop job 'The lining is torn.'")
    opened.refuses("job close job")
    opened.does("job name job supervisor 'R. Tavares-Holm'")
    (tmp_path / "reason.jpg").write_bytes(good_photo())
    opened.does("job photo job reason file:reason.jpg")
    assert "job-closed" in opened.does("job close job")


def test_a_spoken_note_comes_from_a_sound_file(opened, tmp_path):
    write_sound(tmp_path / "said.wav", speech("The slot is empty."))
    assert "note-recorded" in opened.does("job note job --microphone file:said.wav --seconds 5")


def test_a_ticket_from_the_depot_is_taken_into_the_job(opened, tmp_path):
    opened.does("keys make depot.pem --unencrypted")
    opened.does("ticket make t.json --depot 'Northquay Instrument Depot' --depot-key depot.pem")
    opened.does("job open list.toml --serial H7-2 --claim K-2 --technician Lind --folder job2")
    assert "ticket-opened" in opened.does("job ticket job2 t.json")


def test_list_and_show_say_where_a_job_stands(opened, tmp_path):
    shutil.copytree(tmp_path / "job", tmp_path / "home" / "jobs" / "one")
    assert "at step look" in opened.does("job list")
    assert "owed: hold" in opened.does("job show one")


def test_a_closed_job_takes_nothing_more(opened):
    opened.does("job abandon job 'The unit was taken away.'")
    assert "closed" in opened.refuses("job note job --text More.")


def test_a_caution_is_read_in_full_before_it_can_be_acknowledged_and_again_at_its_step(terminal, tmp_path):
    (tmp_path / "list.toml").write_text(step_list(), "utf-8")
    terminal.does("job open list.toml --serial H7-1 --claim K-1 --technician Lind --folder job")
    hazard, avoid = "The stand is sprung and can pinch fingers.", "Hold the stand closed with one hand."
    read = terminal.does("job acknowledge job")
    assert hazard in read and avoid in read and "licensed" in read
    terminal.does("job acknowledge job sprung-stand")
    terminal.does("job tick job lamp")
    assert hazard in terminal.does("job next job")


def test_two_cautions_at_once_are_refused(terminal, tmp_path):
    (tmp_path / "list.toml").write_text(step_list(), "utf-8")
    terminal.does("job open list.toml --serial H7-1 --claim K-1 --technician Lind --folder job")
    terminal.refuses("job acknowledge job sprung-stand sprung-stand")


def test_two_jobs_of_one_unit_opened_by_a_clock_that_stands_get_a_folder_each(
    terminal, tmp_path, monkeypatch
):
    (tmp_path / "list.toml").write_text(step_list(), "utf-8")
    monkeypatch.setattr("time.strftime", lambda _form: "20260317-091500")
    for _ in range(3):
        terminal.does("job open list.toml --serial H7-1 --claim K-1 --technician Lind")
    assert len(terminal.does("job list").splitlines()) == 3
