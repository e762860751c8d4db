"""Every sentence about a problem that a person reads, by code. Short, present tense; says what to do.

`sentence("pin_wrong", left=2)` gives the text. Words for reasons of a ruling live here too, so that server and tablet
say the same. A contract test fails when a code is raised that has no sentence, or a sentence has a blank nobody fills.
"""

from __future__ import annotations

from collections.abc import Mapping

from app.domain.problems import Problem

SENTENCES: dict[str, str] = {
    # Signing in
    "choose_person": "Choose your name from the list.",
    "pin_wrong": "That PIN does not fit. Try it again; after {left} more wrong tries you have to wait.",
    "pin_locked": "Too many wrong PINs. Wait {seconds} seconds, then try again. A foreman can set a new PIN.",
    # People
    "name_missing": "Enter a name.",
    "name_taken": "There is someone called {name} here already. Add an initial, so that signatures can be told apart.",
    "roles_missing": "Choose at least one role.",
    "pin_form": "A PIN has {least} to {most} digits. Enter it once more.",
    "pin_easy": "Digits that are all the same or in a row are guessed first. Choose another PIN.",
    "pin_differs": "The two PINs differ. Enter the same PIN twice.",
    "last_foreman": "This is the last foreman. Make someone else a foreman first.",
    # Jobs
    "complaint_missing": "Write down what the customer complains of, in the customer's words.",
    "lines_missing": "Choose at least one piece of work for this job.",
    "line_twice": "The same work on the same place is on this job already. Take one of the two away.",
    "promised_past": "The promised time has passed already. Enter a time still to come, or leave it empty.",
    "odometer_odd": "Enter the odometer in km as a whole number from 0 to 3,000,000, or leave it empty.",
    "job_not_open": "Job {number} is closed. Open a new job for further work.",
    "too_long": "This is too long: at most {limit} characters. Your text is kept below; shorten it.",
    "id_taken": "This form was sent before with other contents. Open the page again and repeat what is missing.",
    # The exchange with tablets
    "form_forged": "You have signed in again since. Open the page again and send it once more.",
    "batch_too_large": "At most {limit} entries can be sent at once. Send fewer at a time.",
    "batch_unreadable": "What was sent is no batch of entries.",
    "entry_unreadable": "Entry {place} of the batch cannot be read as an entry. Nothing of the batch was taken.",
    "tablet_unknown": "This office does not know this tablet. A foreman can enrol it.",
    "not_yours": "This entry names another tablet or person than the one signed in here.",
    "seq_gap": "Entries are missing in between: send number {next} next.",
    "no_such_job": "This office has no job {job}.",
    # E-mail addresses and letters
    "address_missing": "Enter an e-mail address, for example mira@okonjo.example.",
    "address_hidden_character": "There is a character in this e-mail address that cannot be seen. Type it by hand.",
    "address_has_more": "Enter the e-mail address alone, without the name and the angle brackets: {typed}",
    "address_several": "Enter one e-mail address only: {typed}",
    "address_space": "There is a space inside this e-mail address. Take it out: {typed}",
    "address_no_at": "An e-mail address has an @ in it. Enter it whole: {typed}",
    "address_before_at": "The part before the @ cannot be right: “{part}” in {typed}. Ask for the spelling.",
    "address_after_at": "The part after the @ cannot be right: “{part}” in {typed}. Ask for the spelling.",
    "address_no_dot": "After the @ something is missing, such as .example: {typed}",
    "address_too_long": "This e-mail address is longer than one can be. Ask for the spelling: {typed}",
    "message_not_undeliverable": "This letter is {state}; only an undeliverable one can be put back.",
    "message_id_broken": "This letter has no number that a mail server would take ({typed}). It cannot be sent.",
    "no_result": "Each try ended before an answer came. Look whether the office's computer stops now and then.",
    # Placing a job in a bay
    "placement_begin_missing": "Enter when it begins.",
    "placement_begin_past": "That beginning has passed. Enter when it begins: now or later.",
    "placement_too_far": "That is more than {days} days away. Look at the date again.",
    "placement_end_missing": "Enter when it ends.",
    "placement_ends_before": "It ends before it begins. Enter an end after its beginning.",
    "placement_end_past": "That end has passed. Enter an end still to come.",
    "placement_too_long": "That is longer than {days} days. Look at both dates again.",
    "placement_over": "This is over, or was withdrawn by someone meanwhile. Place the job anew.",
    "bay_missing": "Choose a bay.",
    "technician_missing": "Choose a technician.",
    "mass_unknown": (
        "Nobody has entered what {plate} weighs on its {axles} axle, and it is not assumed. "
        "Enter it on the vehicle's page, then place the job."
    ),
    "bay_too_weak": "{bay} carries {capacity} and this vehicle weighs {mass}. Choose another bay.",
    "lift_never_inspected": (
        "Nobody has entered when the lift of {bay} was last inspected. Have it inspected and enter the date, "
        "or choose another bay."
    ),
    "lift_overdue": (
        "The lift of {bay} was last inspected on {on}, and a lift is inspected every year: it is due by {due}. "
        "Choose a time before that, or another bay."
    ),
    "bay_taken": "Job {number} is in {bay} then: {span}. Choose another time or bay.",
    "technician_elsewhere": "{name} has job {number} in {bay} then: {span}. Choose another time or technician.",
    "job_placed_elsewhere": "This job is in {bay} then already: {span}. Move that placement instead.",
    # Why an entry is set aside
    "step_locked": "Not yet: first do “{first}”. What you entered is kept, set aside.",
    "gate_shut": "The gate “{title}” is still shut. Answer it first. What you entered is kept, set aside.",
    "gate_stale": "The gate “{title}” has to be answered again. What you entered is kept, set aside.",
    "wrong_support": "The vehicle is not held the way this step needs. Change how it is held, then do this again.",
    "held": "A hold tag hangs here, placed by {name}: {why}. What you entered is kept, set aside.",
    "tool_unfit": "Wrench {tag} may not be used for this. Take another. What you entered is kept, set aside.",
    "reading_outside": "{typed} lies outside {window}. The reading stays on record and the step stays open.",
    "spec_unverified": "There is no compared figure for “{place}”, so it cannot be signed off. Ask the desk.",
    "needs_second_person": "“{what}” still waits for a second person's own reading or look.",
    "same_person": "The second reading has to come from another person than {name}.",
    "step_changed": "This step was changed meanwhile. Read it again, then record it again. What you entered is kept.",
    "already_signed": "{name} has recorded this already. Yours is kept as a second record, set aside.",
    "away_when_held": "A hold was placed while you were away. The foreman settles it. What you entered is kept.",
    "unknown_form": "This entry is in a form this office does not know. It is kept whole, set aside.",
    "not_finished": "Something is still missing: {missing}. What you entered is kept, set aside.",
    "not_here": "There is no such {what} on this sheet any more. What you entered is kept, set aside.",
    "wrong_role": "This needs another role ({wanted}). What you entered is kept, set aside.",
    "handed_back": "{name} has handed this job back. Open a new job for further work.",
}


class _Blanks(dict[str, object]):
    def __missing__(self, key: str) -> str:
        return "…"


def sentence(code: str, **blanks: object) -> str:
    """The sentence for a code with its blanks filled; a code without one is named, never hidden."""
    text = SENTENCES.get(code)
    return text.format_map(_Blanks(blanks)) if text is not None else f"Something is not right here ({code})."


def say(problem: Problem) -> str:
    return sentence(problem.code, **problem.details)


def say_ruling(reason: str, details: Mapping[str, str | int]) -> str:
    return sentence(reason, **details)
