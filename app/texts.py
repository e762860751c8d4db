"""Every sentence about a problem that a person reads, by code. Short, present tense; says what to do.

`sentence("pin_wrong", left=2)` gives the text. Words for reasons of a ruling live here too, so that server and tablet
say the same. A contract test fails when a code is raised that has no sentence, or a sentence has a blank nobody fills.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, tzinfo
from typing import Any

from app.domain import dates
from app.domain.problems import Problem
from app.language.catalogue import translated
from app.language.procedures import said
from app.language.speech import _, spoken

SENTENCES: dict[str, str] = {
    # What a sheet shows beside numbers and names
    "shown.steps_done": "{done} of {total} steps done",
    "shown.done": "{done} of {total} done",
    "shown.earlier": "{count} earlier steps",
    "shown.aside_one": "1 entry is set aside",
    "shown.asides": "{count} entries are set aside",
    "shown.reads_after": "{name} reads this afterwards.",
    "shown.new_part": "New for this job: {part}",
    "shown.stage": "Stage {number}",
    "shown.range": "{low} to {high}",
    "shown.both": "{low} and {high}",
    "shown.at_angle": "{length} at {angle}°",
    "shown.reads": "{wrench} reads",
    "shown.needed": "Needed: {limit}",
    "shown.clear": "{done} of {total} clear",
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
    # Measured values from a file
    "measured_header": "The first line names the columns {names}, in any order, with semicolons, tabs or commas.",
    "measured_count": "The file has no line below its header, or more than {limit}.",
    "measured_lines": "Nothing was recorded: a line cannot be read. Mend it below and look at it again.",
    "measured_when": "“{typed}” is not before or after.",
    "measured_key": "“{typed}” is no key of a measure. The list below has them.",
    "measured_not_asked": "This sheet does not ask for it: {typed}. Angles need front or rear as their axle.",
    "shims_bolt": "Say at which bolt, in at most {limit} characters.",
    "shims_thickness": "A stack is from 0 to 50 mm; “{typed}” is not.",
    "shims_no_step": "This sheet measures no alignment on that axle after the work.",
    # Letters by edition, and whether they may be mailed
    "consent_not_asked": "Nobody has asked {name} whether letters may be mailed: it is printed only.",
    "consent_refused": "{name} does not want letters by mail: it is printed only.",
    "comes_at_unclear": "Enter day and time of the appointment, or leave it empty.",
    "not_handed_back": "Job {number} was not handed back yet. Its first letter is written then.",
    "revision_why_missing": "Say why the letter is written anew. The customer reads it.",
    "nothing_changed": "It would say the same as edition {edition}. Change what is wrong first, then write it anew.",
    "complaint_missing": "Write down what the customer complains of, in the customer's words.",
    "lines_missing": "Choose at least one piece of work for this job.",
    "line_twice": "The same work on the same place is on this job already. Take one of the two away.",
    # Making a job's sheet from procedures
    "unknown_procedure": "There is no procedure “{procedure}” to open a line with. Choose one from the list.",
    "unknown_layout": "This axle's layout is not known here ({layout}). Choose one from the list.",
    "place_missing": "{layout}: choose which kind of spring it stands in the place of.",
    "axle_wrong": "This work is opened on one {scope}, not on this choice of axle. Choose the axle again.",
    "corner_missing": "Choose left or right for this work.",
    "corner_unneeded": "This work takes in left and right together. Leave the side open.",
    "option_missing": "Answer this first: {ask}",
    "option_unknown": "“{value}” is not an answer that fits here. Choose again.",
    "fact_unknown": "“{value}” is not an answer the vehicle's record knows for this. Choose again.",
    "fact_missing": "The vehicle's record does not say, {axle} axle: {ask}",
    "not_for_layout": "{says}",
    "promised_past": "The promised time has passed already. Enter a time still to come, or leave it empty.",
    "odometer_odd": "Enter the odometer in km as a whole number from 0 to 3,000,000, or leave it empty.",
    "job_not_open": "Job {number} is closed. Open a new job for further work.",
    "too_long": "This is too long: at most {limit} characters. Your text is kept below; shorten it.",
    "id_taken": "This form was sent before with other contents. Open the page again and repeat what is missing.",
    # Customers and vehicles at the desk
    "customer_name_missing": "Enter the customer's name, in any script.",
    "customer_twice": "{name} is on the list already, with the same e-mail address and phone. Use that record.",
    "phone_unclear": "There is no figure in this phone number. Enter it again, or leave it empty.",
    "changed_meanwhile": (
        "Someone else changed this record since you opened it. Open it in a second window and compare; "
        "sending this again keeps what stands here."
    ),
    "plate_or_vin_missing": "Enter the plate. For a vehicle without one, enter its identification number (VIN).",
    "plate_unclear": "There is no letter or figure in “{typed}”. Enter the plate as it stands on the vehicle.",
    "plate_twice": "Plate {plate} is on another vehicle's record already ({model}). Look at that one first.",
    "vin_twice": "This identification number is on the record of {plate} already. Look at that one first.",
    "vin_length": (
        "A vehicle identification number has 17 characters; this one has {count}. Count again, or leave it empty."
    ),
    "vin_character": (
        "Character {position} is {character}, which no identification number has: only letters but I, O and Q, and "
        "figures. Look at it again."
    ),
    "vin_character.perhaps": (
        "Character {position} is {character}. Identification numbers have no I, O or Q; is it {perhaps}?"
    ),
    "model_missing": "Enter the shop's own name for this kind of vehicle. Torque figures are kept under it.",
    "year_odd": "Enter the year in four figures, from {first} to {last}, or leave it empty.",
    "tyre_unclear": "“{typed}” is not clear as a tyre size. Enter it as on the sidewall, like 205/55 R16 91V.",
    "tyre_unclear.part": (
        "“{part}” in “{typed}” is not clear. Enter the size as on the sidewall, like 205/55 R16 91V, or the size alone."
    ),
    "tyre_odd": "No road tyre has the {part} of “{typed}”. Read the sidewall again.",
    "amount_outside": "“{typed}” cannot be: this lies from {bounds}. Look again, or leave it empty.",
    "say_yes_or_no": "Say whether this vehicle has high voltage: yes or no. If nobody knows, find out before work.",
    "customer_missing": "Choose whose vehicle this is, or choose “A new customer” and enter the name.",
    "layout_missing": "Choose how the {axle} axle is hung. If you do not know, look underneath or ask the foreman.",
    "spring_source_missing": "Say where the spring's figures come from: the maker's data, or measured here by whom.",
    "spring_installed_long": "Installed, a coil is shorter than free. Look at both lengths again.",
    "spring_hanging_long": "With the wheel hanging, a coil is no longer than free. Look at both lengths again.",
    "spring_hanging_short": "With the wheel hanging, a coil is not shorter than at ride height. Look at both again.",
    "promised_far": "That is more than a year away. Look at the year of the promised time again.",
    "promised_unclear": "Enter the promised time with its date, like 2026-06-09 16:30, or leave it empty.",
    # Search, history, reminders, comebacks
    "comeback_unanswered": "Say whether it is the same complaint as before, or another one. Ask the customer.",
    "comeback_unknown": "The earlier job is not one of this vehicle. Open the intake again and choose anew.",
    "reminder_done": "{name} marked this done before you. Nothing was changed; your words are not kept.",
    "search_long": "That is more than can be looked for at once: at most {words} words and {limit} characters.",
    "search_no_word": "There is no letter or figure in that. Type a plate, a name, a word or a number.",
    "search_nothing": "Nothing has all of these words. Try fewer of them, or only how they begin.",
    "search_found": "Found: {jobs}, {vehicles}.",
    "search_more": "There are more than the {limit} shown here, the latest. Add a word.",
    # The exchange with tablets
    "form_forged": "You have signed in again since. Open the page again and send it once more.",
    "batch_too_large": "At most {limit} entries can be sent at once. Send fewer at a time.",
    "batch_unreadable": "What was sent is no batch of entries.",
    "entry_unreadable": "Entry {place} of the batch does not say whose it is, so it cannot be kept.",
    "contact_unreadable": "What was sent is no contact of a tablet: look at “{field}”.",
    "contact_too_large": "What was sent is more than a contact can hold.",
    "sign_in_unreadable": "What was sent is no sign-in of a tablet.",
    "enrol_unreadable": "What was sent is no enrolment. Give a code and a name.",
    "tablet_unknown": "This office does not know this tablet. A foreman can enrol it.",
    "not_yours": "This was sent in another tablet's name.",
    "seq_gap": "Entries are missing in between: send number {next} next.",
    "enrol_code_unknown": "This code cannot be used: it was typed wrongly, used before, or is older than ten minutes.",
    "enrol_code_slow": "Too many wrong codes. Wait {seconds} seconds, then try again, or ask for a new code later.",
    "tablet_name_missing": "Enter what this tablet is called, for example “Bay 2 bench”.",
    "tablet_name_taken": "There is a tablet called {name} already. Choose another name.",
    # What a tablet had and the office does not have, on the Floor
    "tablet_alarm.missing": "{tablet} had {entries} to send that never came, and has no more of them now.",
    "tablet_alarm.went_back": "{tablet} came back with less than it had: {entries} it had told of had not come.",
    "tablet_alarm.went_back_whole": (
        "{tablet} came back with less than it had. All it had told of is here; whether it held more, nobody knows."
    ),
    "tablet_alarm.no_job": (
        "{tablet} sent {entries} for a job this office does not have. What was entered is kept in the ledger."
    ),
    "tablet_alarm.retired": "{tablet} was taken out of use while {entries} had not come.",
    "tablet_alarm.photo_refused": (
        "{photos} of job {number} cannot be kept by this office, now or later. What was taken is on {tablet} alone."
    ),
    "tablet_alarm.photo_refused_no_job": (
        "{photos} cannot be kept by this office, now or later. What was taken is on {tablet} alone."
    ),
    "tablet_alarm_photo_by": "Taken by {names}.",
    "tablet_alarm_photo": (
        "Look at it on that tablet, on the sheet. Where the picture matters, have it taken again there; settling this "
        "ends what the tablet says about it, and leaves the picture where it is."
    ),
    "tablet_alarm_since": "Made since {at}.",
    "tablet_alarm_people": "{names} worked there.",
    "tablet_alarm_ask": (
        "Ask them what they did, and look at each sheet they worked on: what is missing there counts as not done."
    ),
    "tablet_alarm_nobody": (
        "Look at each open sheet with whoever worked on it: what is missing there counts as not done."
    ),
    "tablet_owes": "{tablet}: {entries} not here yet, last heard {at}.",
    "tablet_settled": "{name} settled it, {at}: {reason}",
    "tablet_bare_address": (
        "This page was opened at a bare number instead of the office's own name. Open it by its name, and make the "
        "code anew: a tablet is enrolled under that name for good."
    ),
    "tablet_no_https": (
        "This page was opened without HTTPS. A tablet keeps sheets only where the office's certificate is trusted: "
        "open this page over HTTPS and make the code anew."
    ),
    "enrol.address": (
        "This page was opened at a bare number. Open it by the office's own name, as it stands on the foreman's page."
    ),
    "enrol.insecure": (
        "This page is not trusted by this tablet: it needs HTTPS, and the office's certificate. Install it as the "
        "office's certificate page says, then open this address again."
    ),
    "enrol.away": "The office did not answer. Look at the Wi-Fi, then press again.",
    "enrol.unkept": (
        "This tablet could not keep its credential: its storage is full, or private browsing is on. Mend that, then "
        "ask the foreman for a new code."
    ),
    "enrol.done": "This tablet is enrolled.",
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
    "message_not_undeliverable": "This letter is {state}; only one that did not arrive can be sent again.",
    "message_not_sent": "This letter is not among those that were sent any more. Look at where it stands below.",
    "came_back_reason_missing": "Write down why it came back, in the words of the returned message.",
    "message_id_broken": "This letter has no number that a mail server would take ({typed}). It cannot be sent.",
    "no_result": "Each try ended before an answer came. Look whether the office's computer stops now and then.",
    # The Desk's registers: fields of any form
    "value_missing": "Enter this with its unit, for example {example}.",
    "value_bounds": "“{typed}” cannot be meant: enter an amount from {low} to {high}. Look at the unit again.",
    "whole_number": "Enter a whole number from {low} to {high}.",
    "day_unclear": "“{typed}” is no day that can be meant. Enter it as year-month-day, for example 2026-03-31.",
    "day_to_come": "This day is still to come. Enter the day it was done.",
    "range_swapped": "The upper end has to lie above the lower one. Look at both again.",
    # Bays, tools, the workshop itself
    "bay_name_missing": "Enter what the bay is called.",
    "bay_name_taken": "There is a bay called {name} already. Choose another name.",
    "lift_missing": "Choose the kind of lift; “flat” is a bay without one.",
    "tag_missing": "Enter the tag that is on the tool.",
    "tag_taken": "There is a tool with the tag {tag} already. Each tag is there once.",
    "tool_kind_missing": "Choose what kind of tool it is.",
    "tool_name_missing": "Enter what people call it.",
    "torque_unit_missing": "Choose a unit of torque.",
    "basis_missing": "Say what the label's rating is for: each stand, or the pair.",
    "fault_missing": "Write down why it is out of use.",
    "shop_name_missing": "Enter the workshop's name, as letters show it.",
    "timezone_unknown": "“{typed}” is no time zone known here. Choose one from the list, like Europe/Helsinki.",
    "language_unknown": "Choose a language from the list.",
    # The tool crib: tags, dates, calibrations, mishaps, who has what
    "tag_unclear": "“{typed}” is no tag. A tag begins with a letter or figure; blanks and . _ - may follow.",
    "tag_used": "Joints were signed off under the tag {tag}, so it stays. Tag this tool out and add it anew instead.",
    "tag_not_there": "There is no tool with the tag “{typed}” in the crib. Type it as it is on the tool.",
    "tool_not_lent": "{tag} is not to be used. {why}. Take another, and bring this one to the foreman.",
    "due_before_check": "This day is not after the day it was checked. Look at both again.",
    "due_too_far": "This is more than {months} months after the check. Look at the year again.",
    "wrench_type_unknown": "Choose the wrench's type from the list, or leave it open.",
    "compressor_type_unknown": "Choose the kind of compressor from the list, or leave it open.",
    "lift_tool_unfit": "Choose a lift of the tool crib for a bay that has one, or none.",
    "lift_tool_elsewhere": "This lift stands in {bay}. A lift stands in one bay.",
    "lift_tagged_out": "The lift of {bay} is tagged out: {why}. Choose another bay.",
    "calibration_day_missing": "Enter the day it was calibrated, as the certificate says.",
    "calibrated_by_missing": "Enter who calibrated it, as the certificate says.",
    "readings_missing": "Enter what was measured at one setting at least, as found, before anything was set right.",
    "setting_outside": "“{typed}” lies outside the range of {tag}. Look at the number and its unit again.",
    "points_missing": (
        "To be found true it has to be checked at 60 % and 100 % of its range and at its lowest point. There is no "
        "reading near {missing}. Enter it, or look at the settings again."
    ),
    "reading_doubt": (
        "Set to {set} it gave {measured}: that is off by {off}. Look whether both are in the same unit. If that is "
        "what the certificate says, confirm it below."
    ),
    "paper_too_large": "This file is larger than {limit} MB. Scan it again in less detail. What you typed is kept.",
    "paper_unknown": "“{file}” is no PDF, JPEG or PNG file, whatever its name says. What you typed is kept.",
    "mishap_kind_missing": "Choose what happened.",
    "mishap_words_missing": "Write down what you know or see, in your own words.",
    "mishap_back_missing": "Choose whether it may be used again.",
    "mishap_seen": "Somebody has looked at this meanwhile. Open the tool's page again.",
    "mishap_not_seen": "Something happened to {tag} and nobody has looked yet. Write down what you find first.",
    # Tracing: what became of the re-checks asked for
    "rechecks.opened": "Opened now: {count} jobs. Call the customers; the story is in each job's complaint.",
    "rechecks.there": "There already: {count} jobs. None was opened twice.",
    "rechecks.not_possible": "Not possible: {count}. A fact of the vehicle is missing; open its job by hand.",
    # Torque figures
    "figure_model_missing": "Enter the kind of vehicle, as on the vehicle's page.",
    "axle_missing": "Choose the axle.",
    "place_unknown": "Choose the joint from the list.",
    "shape_missing": "Choose how the source prints it: one figure, a range, or stages.",
    "stages_few": "Stages are two or more, in the order they are done. For one figure choose “one figure”.",
    "turn_first": "A turn follows a torque. Enter the torque stage first.",
    "turn_tolerance_missing": (
        "Enter how far the turn may be off, as the source prints it or as this workshop works, for example 5°."
    ),
    "tolerance_too_large": "A tolerance is more than nothing and less than the figure itself. Look at it again.",
    "thread_unclear": "“{typed}” is no thread known here. Enter it like M12x1.25 or 1/2-20, or leave it empty.",
    "thread_pitch_missing": "“{typed}” needs its pitch: enter it like M12x1.25 or 1/2-20.",
    "strength_unknown_here": "This strength is not made for such a bolt. Choose from {known}, or leave it empty.",
    "condition_unknown": "Choose the state of the thread from the list, or leave it open.",
    "document_missing": "Enter the document the figure stands in.",
    "page_missing": "Enter the page or section, so that the second person finds it.",
    "document_date_missing": "Enter the document's date or edition; write “no date” when none is printed.",
    "figure_doubt": "{says} If the source does print this, confirm it below and say why.",
    "confirm_reason_missing": "Say why it is right although it looks odd: what did you compare it with?",
    "thread_unknown": "The thread is not known, so the figure was not compared with what its bolt bears.",
    "strength_unknown": "The strength is not known, so the figure was not compared with what its bolt bears.",
    "figure_yours": "You typed this reading yourself. Another person has to type it from the source.",
    "figure_settled": "This figure was compared, corrected or withdrawn meanwhile. Open its page again.",
    "figure_foreman": "Two readings differ here. Now the foreman types it from the source.",
    "figure_neither": (
        "This is neither of the two readings. If the source does print it, withdraw both and enter the figure anew."
    ),
    # The spec book: figures of every other kind, and sheets that rest on a corrected one
    "axle_of_place": "This is given for {axles} axles. Choose that.",
    "tyre_missing": "Enter the tyre the source gives this height for, for example 205/65 R15.",
    "point_missing": "Enter what the source measures to, for example the lower edge of the wheel arch.",
    "only_most": "This is a limit: enter the most the source allows, and leave the other fields empty.",
    "tolerance_and_ends": "Enter a figure with its tolerance, or from and to; not both.",
    "target_outside": "The figure lies outside its own window. Look at all three again.",
    "unit_not_for_place": "“{typed}” is no unit for this. Enter its unit, for example {usual}.",
    "sheet_choice_missing": "Choose whether this sheet keeps the edition before or is brought up to date.",
    "sheet_reason_missing": "Write down why, for whoever reads this sheet later.",
    "sheet_settled": "This sheet was decided about, closed or changed meanwhile. Open the list again.",
    "sheet_not_renewed": (
        "Your decision is kept, but the sheet of job {number} could not be brought up to date. Open the job and see "
        "what is missing."
    ),
    # A file of figures
    "file_missing": "Choose the file first.",
    "file_empty": "This file is empty. Choose another one.",
    "file_large": "This file is larger than {limit} MB. Divide it and send the parts one after the other.",
    "file_no_text": "This is no text file. Save the sheet as CSV, UTF-8 if you are asked, and send that.",
    "file_encoding": "Line {line} has a character that {encoding} does not have. Save the file as CSV in UTF-8.",
    "file_lines": "This file has more than {limit} lines. Divide it and send the parts one after the other.",
    "file_no_lines": "This file has a header and no lines under it.",
    "file_quotes": "In line {line} a quotation mark is opened and not closed, or stands where none can. Mend the line.",
    "file_anothers": (
        "This is the very file that {name} sent. Comparing means that a second person types the figures from the "
        "source."
    ),
    "file_gone": "This file was imported, or another one was sent since. Choose it again.",
    "file_not_taken": "Not imported: something has changed since the file was looked at. Nothing was kept. See below.",
    "header_unknown": (
        "The first line names no columns known here. It needs at least {needed}, parted by commas, semicolons or tabs."
    ),
    "header_lacks": "The first line lacks these columns: {names}.",
    "header_twice": "The first line names these columns twice: {names}.",
    "header_strange": "The first line has columns that are not known here: {names}. Take them out or mend their names.",
    "line_cells": "This line has {got} cells and the first line {wanted}.",
    "line_cells_comma": (
        "This line has {got} cells and the first line {wanted}. A decimal comma, or a comma in words, needs quotation "
        "marks round its cell in a file parted by commas."
    ),
    "line_doubled": "Line {line} is for the same place of the same axle. Keep one of the two.",
    "line_doubt": "{says} If the source does print this, say why in the column confirmed_because.",
    "cell_long": "A cell of this line is longer than {limit} characters.",
    "cell_formula": "“{typed}” in the column {column} is a formula. Put the number there that the source prints.",
    "yes_no_unclear": "“{typed}” in the column {column} is neither yes nor no.",
    "stages_many": "A joint has at most {limit} stages here. Look at the line again.",
    # Sums: first what a field holds, then what a sum refuses, by code and by what is the matter
    "sum_input_missing": "{label} is missing. Enter it, for example {example}.",
    "sum_input_missing.condition_or_factor": "Choose the condition of the thread, or enter a nut factor.",
    "sum_input_missing.torque_or_preload": "Enter a torque to get the preload, or a preload to get the torque.",
    "sum_input_missing.coils": "Enter the active coils, or all coils together with the kind of ends.",
    "sum_input_missing.motion_ratio": "Enter the motion ratio, or the travel of spring and of wheel together.",
    "sum_input_missing.ride": "Enter the sag; or the sprung mass with the rate at the wheel.",
    "sum_input_missing.mass_or_load": "Enter the mass of the vehicle, or a load on it.",
    "sum_input_missing.toe": "Enter the toe, as a length or as an angle.",
    "sum_input_missing.pair": "Enter left and right of at least one pair.",
    "sum_input_missing.hour": "Enter the price of an hour, for example 120.00.",
    "sum_input_missing.target_or_range": "Enter a target, or the low and the high end of a range.",
    "sum_input_missing.tolerance": "A single figure needs a tolerance: the source prints it or the shop sets it.",
    "sum_input_missing.low": "The low end of the range is missing.",
    "sum_input_missing.high": "The high end of the range is missing.",
    "sum_input_missing.front_stands_at": "Enter where the stands are: under the front, under the rear, or both.",
    "sum_input_missing.axial": "Enter the play in at least one direction, or what the wear indicator shows.",
    "sum_input_missing.axial_limit": "A joint that carries load may have some play: enter the maker's limit, axial.",
    "sum_input_missing.radial_limit": "A joint that carries load may have some play: enter the maker's limit, radial.",
    "sum_input_missing.wanted": "Enter how much camber or caster has to change; 0 if it is to stay.",
    "sum_input_missing.effects": "No bolt of the table changes an angle that has to change. Complete the table.",
    "sum_input_missing.lines": "Enter a time, a part or a fee.",
    "sum_input_missing.condition": "Choose the condition of the thread.",
    "sum_input_missing.free_length": "Enter the free length beside the compressed one.",
    "sum_input_missing.compressed_length": "Enter the shortest length the spring will have while anyone is near it.",
    "sum_input_missing.readings": "Enter at least one pair of what was set and what was measured.",
    "sum_input_missing.strength_class": "Enter the strength class or grade from the bolt's head.",
    "sum_input_missing.aspect": "“{typed}” does not say its aspect ratio. Enter it in full, for example 195/82R14.",
    "sum_input_missing.torque": "Enter the torque the nut has now, to compare it with the highest.",
    "sum_rows_missing": "{label}: fill in at least {least}.",
    "sum_too_long": "{label}: this is longer than {longest} characters. Shorten it.",
    "sum_whole": "“{typed}” is no whole number. {label}: enter one without a unit, for example {example}.",
    "sum_choice": "{label}: choose one of the list.",
    "sum_day": "“{typed}” is no date. {label}: enter it as year, month, day, for example 2026-05-31.",
    "sum_beyond": "“{typed}” is no amount to reckon with: endless, too large or too small. Enter it like {example}.",
    "sum_other_kind": "“{typed}” is a measure of {got}; here one of {needed} is wanted. Enter it like {example}.",
    "sum_not_positive": "{label}: “{typed}” cannot be; it has to be more than zero.",
    "sum_negative": "{label}: “{typed}” cannot be; it is never below zero.",
    "sum_not_understood": "{label}: “{typed}” is not clear. Look at the hint beside the field and enter it again.",
    "sum_not_understood.size": "“{typed}” is not clear as a tyre size. Enter it as on the sidewall: 205/55R16 91V.",
    "sum_not_understood.part": "“{part}” in “{typed}” is not clear. Enter the size alone, like 205/55R16.",
    "sum_not_understood.speed_symbol": "The speed symbol in “{typed}” is not known. Enter the size without it.",
    "sum_not_understood.too_long": "{label}: this is too long. Enter it alone, as short as it is printed.",
    "sum_not_understood.length": "An identification number has 17 characters; this one has {count}. Count again.",
    "sum_not_understood.character": (
        "Character {position} is {character}, which no identification number has: only letters but I, O and Q, and "
        "figures. Look at it again."
    ),
    "sum_not_understood.thread": "“{typed}” is not clear as a thread. Enter it like M12, M12x1.25, 1/2-20 or 1/2 UNF.",
    "sum_not_understood.pitch": "The pitch of “{typed}” is missing. Enter it like M12x1.25 or 1/2-20.",
    "sum_not_understood.fraction": "The fraction in “{typed}” is not clear. Enter it like 1 1/16 in or 1/2-20.",
    "sum_not_understood.strength_class": "“{typed}” is no class for this kind of bolt. Enter one of: {known}.",
    "sum_not_understood.condition": "{label}: choose one of the list.",
    "sum_not_understood.currency": "“{typed}” is no currency. Enter its three letters, like USD.",
    "sum_not_understood.too_fine": "“{typed}” is finer than the smallest coin of this currency. Enter whole coins.",
    "sum_not_understood.no_number": "There is no number in “{typed}” that fits here. Enter it like {example}.",
    "sum_not_understood.thousands_ambiguous": (
        "“{typed}” can be read in two ways. Enter it with a point and no comma, like 1250.5."
    ),
    "sum_not_understood.jurisdiction": "No rule is held here for that place. Choose from the list.",
    "sum_not_understood.unit_missing": "“{typed}” has no unit. Enter it with one, for example {example}.",
    "sum_not_understood.unit_unknown": "The unit in “{typed}” is not known here. Enter it like {example}.",
    "sum_not_understood.unit_ambiguous": "The unit in “{typed}” can mean two things. Write one of: {units}.",
    "sum_not_understood.not_finite": "“{typed}” is endless. Enter a number with its unit, like {example}.",
    "sum_not_understood.compound": "“{typed}” does not add up as one amount. Enter one number with its unit.",
    "sum_not_understood.part_count": "“{what}” is no count of parts. Enter it like 2 or 0.5.",
    "sum_not_understood.trace_line": "Line {line} of the trace is “{what}”, which is no number. Mend it or write nan.",
    "sum_not_understood.trace_long": "The trace has more than {most} lines. Cut it to the bounce.",
    "sum_wrong_dimension": "{label}: “{typed}” is of another kind than this sum needs here. Look at its unit.",
    "sum_wrong_dimension.tolerance": "The tolerance has to be a part, like 4 %, or of the same kind as the target.",
    "sum_wrong_dimension.tolerance_below": (
        "The tolerance below has to be a part, like 4 %, or of the same kind as the target."
    ),
    "sum_out_of_range": "{label}: “{typed}” lies outside what this sum holds for. See “Where it holds” below.",
    "sum_out_of_range.not_positive": "{label}: “{typed}” cannot be; it has to be more than zero.",
    "sum_out_of_range.negative": "{label}: “{typed}” cannot be; it is never below zero.",
    "sum_out_of_range.not_finite": "With these figures the result is endless. Look at each of them again.",
    "sum_out_of_range.too_large": "“{typed}” is too large to reckon with. Look at number and unit again.",
    "sum_out_of_range.too_small": "“{typed}” is too small to reckon with. Look at number and unit again.",
    "sum_out_of_range.outside_wheelbase": (
        "{label}: “{typed}” does not lie between the axles. Measure from the front axle backwards."
    ),
    "sum_out_of_range.stands_order": "The front stands have to be ahead of the rear stands. Look at both places again.",
    "sum_out_of_range.tips": (
        "The vehicle would tip: its weight lies past these stands or too near them. Do not put them there; choose a "
        "place nearer to the axle."
    ),
    "sum_out_of_range.share": "{label}: a part lies from 0 to 100 %.",
    "sum_out_of_range.corners": "Nothing weighs anything here. Read all four scales.",
    "sum_out_of_range.unsprung_mass": "The unsprung mass has to be less than the mass on that corner.",
    "sum_out_of_range.mean_coil": (
        "Coil over wire is {index}, below 3: no such spring is wound. Look at the wire, and that the coil is the mean "
        "diameter, not the inside."
    ),
    "sum_out_of_range.spring_index": "Coil over wire is {index}, below 3: no such spring is wound. Look at both again.",
    "sum_out_of_range.total_coils": "The ends alone take that many coils. Count again.",
    "sum_out_of_range.beyond_free": (
        "{label}: “{typed}” is longer than the free length, where the spring bears nothing. Measure again."
    ),
    "sum_out_of_range.solid": (
        "{label}: the coils touch before “{typed}”. The spring cannot be that short; measure again."
    ),
    "sum_out_of_range.solid_length": "The solid length is longer than the free length. Look at both again.",
    "sum_out_of_range.load": "The coils touch before the spring bears this load. Look at rate and length again.",
    "sum_out_of_range.readings": "A reading is there for a stage whose forerunner has none. Enter them in order.",
    "sum_out_of_range.same_length": "The two lengths are the same. Measure at two loads that differ.",
    "sum_out_of_range.lengths_swapped": "A spring is shorter under the greater load. Look which length is which.",
    "sum_out_of_range.whole_part": "{label}: “{typed}” is the whole or more. Enter a part, like 10 %.",
    "sum_out_of_range.as_large": "{label}: “{typed}” is as large as the reading itself. Measure more closely.",
    "sum_out_of_range.margin": "A compressor has to bear more than the spring gives: the margin is 1 or more.",
    "sum_out_of_range.angle": "{label}: “{typed}” lies outside −180° to 180°.",
    "sum_out_of_range.right_angle": "{label}: “{typed}” is a right angle or more. Look at number and unit again.",
    "sum_out_of_range.toe_too_long": (
        "{label}: “{typed}” is as long as what it was measured over. Look at length and diameter again."
    ),
    "sum_out_of_range.extension": (
        "The extension reaches back to the grip or beyond it. No torque can be set that way: turn it or take another."
    ),
    "sum_out_of_range.target": "The target does not lie between the lowest and the highest figure. Look at all three.",
    "sum_out_of_range.outside_own_range": "The target lies outside its own range. Look at all three.",
    "sum_out_of_range.tolerance": "The tolerance is as large as the target itself. Look at both again.",
    "sum_out_of_range.high": "The high end is lower than the low end. Look which is which.",
    "sum_out_of_range.lowest_mark": "The lowest mark is above the largest torque of the wrench. Look at both again.",
    "sum_out_of_range.interval": "The interval has to be at least one month and one use.",
    "sum_out_of_range.calendar": "{label}: “{typed}” leaves the calendar. Enter a shorter one.",
    "sum_out_of_range.cycles": "{label}: “{typed}” cannot be; it is never below zero.",
    "sum_out_of_range.last_good": "“{typed}” has not come yet. Enter the day it was last found true.",
    "sum_out_of_range.slots": "A castellated nut has 4 to 12 slots; “{typed}” cannot be.",
    "sum_out_of_range.beyond_highest": (
        "The torque it has is beyond the highest its source allows. Ask the foreman before anything else is turned."
    ),
    "sum_out_of_range.thread": "There is no thread “{typed}”. Look at diameter and pitch again.",
    "sum_out_of_range.strength_class": "Class “{typed}” is not made in this thread. Look at the bolt's head again.",
    "sum_out_of_range.factor": "{label}: “{typed}” cannot be. See “Where it holds” below.",
    "sum_out_of_range.size": "No road tyre has the {part} of “{typed}”. Read the sidewall again.",
    "sum_out_of_range.placard": "No road tyre has the {part} of “{typed}”. Read the placard again.",
    "sum_out_of_range.loaded_by": "A loaded tyre is not more than a tenth lower; “{typed}” cannot be.",
    "sum_out_of_range.actual": (
        "The pressure found is less than half or more than twice the placard's. Set the pressure and measure."
    ),
    "sum_out_of_range.swings": "{label}: count at least half a swing. None at all tells nothing of how much it damps.",
    "sum_out_of_range.still_at": "Still has to be a part of the first swing, below 100 %.",
    "sum_out_of_range.sample_rate": "Samples have to come 25 to 200 times a second; “{typed}” lies outside.",
    "sum_out_of_range.samples": "The trace is longer than a minute. Cut it to the bounce.",
    "sum_out_of_range.stock": "There are too many sets to try them all. Enter fewer thicknesses or fewer at one bolt.",
    "sum_out_of_range.effects": "Two rows of the table name the same bolt. Give each bolt one row.",
    "sum_out_of_range.most_per_bolt": "{label}: from 1 to 6.",
    "sum_out_of_range.fitted": "The shims there now cannot be fewer than none. Count them again.",
    "sum_out_of_range.authorised": "{label}: “{typed}” cannot be, or is in another currency than the rule.",
    "sum_out_of_range.currency": "All amounts have to be in one currency.",
    "sum_out_of_range.lines": "All amounts have to be in one currency.",
    "sum_out_of_range.rate_per_hour": "The price of an hour is never below zero.",
    "sum_cannot_tell": "{label}: these figures do not settle it. Measure again.",
    "sum_cannot_tell.too_few": "It takes at least two peaks on one side, one whole swing apart.",
    "sum_cannot_tell.not_decaying": "It does not die away. Enter it in order, from the push until it is still.",
    "sum_cannot_tell.too_short": "There is too little after the last push. Record on until the body is still.",
    "sum_cannot_tell.too_many_lost": "Too many samples are missing. Record it again.",
    "sum_cannot_tell.clipped": "The trace is cut off at its ends for too long. Record it on a wider range.",
    "sum_cannot_tell.too_noisy": "The trace is too noisy to tell. Record again, the phone held fast to the body.",
    "sum_cannot_tell.nothing_moves": "Nothing moves that stands out. Push harder and let go.",
    "sum_cannot_tell.not_one_swing": "This is not one free swing dying away. Push, let go, stand clear.",
    "sum_cannot_tell.no_swing": "It comes to rest without a swing: there is nothing to measure a decay by.",
    "sum_cannot_tell.weight_on": (
        "An indicator is read with the weight on the joint; play is felt with the weight off. Say how it was held, and "
        "measure again that way."
    ),
    # Why an entry is set aside: first by reason, then by reason and what is the matter with it
    # Placing a job in a bay
    "placement_begin_missing": "Enter when it begins.",
    "placement_begin_past": "That beginning has passed. Enter when it begins: now or later.",
    "placement_too_far": "That is more than {days} days away. Look at the date again.",
    "placement_end_missing": "Enter when it ends.",
    "placement_ends_before": "It ends before it begins. Enter an end after its beginning.",
    "placement_end_past": "That end has passed. Enter an end still to come.",
    "placement_too_long": "That is longer than {days} days. Look at both dates again.",
    "time_unclear": "“{typed}” is not clear as a date and time. Enter it like 2026-06-08 14:30.",
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
    "lift_short.never": "Not to be used: nobody has entered an inspection of this lift",
    "lift_short.overdue": "Not to be used: its inspection was due by {due}",
    "lift_overdue": (
        "The lift of {bay} was last inspected on {on}. A lift is inspected every year, so that counts until {due} "
        "only. Choose a time before that, or another bay."
    ),
    "bay_taken": "Job {number} is in {bay} then: {span}. Choose another time or bay.",
    "technician_elsewhere": "{name} has job {number} in {bay} then: {span}. Choose another time or technician.",
    "job_placed_elsewhere": "This job is in {bay} then already: {span}. Move that placement instead.",
    # What a foreman settles, releases and cancels
    "foreman_reason_missing": "Write down the reason. Others read it afterwards.",
    "aside_settled": "{name} has settled this already. Go back to the floor and look again.",
    "settle_outcome_missing": "Choose what becomes of it.",
    "hold_off_already": "{name} has taken this tag off already. Go back to the floor and look again.",
    "handback_open_step": "Not done yet: “{what}”.",
    "handback_open_second_person": "“{what}” waits for a second person's own reading or look.",
    "handback_open_hold": "A hold tag still hangs: {what}.",
    "handback_open_aside": "Something that was set aside at “{what}” is not settled yet.",
    "no_letter": "{name} has no e-mail address, so no letter goes out. Print the record, or ask for an address.",
    "figure_absent": "No figure yet, {axle}: {place}. Enter it from the maker's source.",
    "figure_not_compared": "Not compared yet, {axle}: {place}. A second person types it again from the source.",
    "input_absent": "A sum at a gate cannot be done yet: {what}.",
    "cancel_not_on_wheels": "The vehicle is not on its wheels. Bring it down first and record that on the sheet.",
    "cancel_stands_missing": "Work has begun. Write down how the vehicle stands, and what is loose, off or not fitted.",
    # What was sent and not taken; said by the page itself, with what was typed still on it
    # What the tablet says of what it keeps and of the office.
    "saved.office": "Saved in the office · {count} entries",
    "saved.office_one": "Saved in the office · 1 entry",
    "saved.here": "Saved on this tablet · {count} to send",
    "saved.here_one": "Saved on this tablet · 1 to send",
    "tablet.away": (
        "The office has not answered since {at}. Go on working: everything is kept on this tablet and sent later."
    ),
    "tablet.away_never": (
        "The office has not answered yet. Go on working: everything is kept on this tablet and sent later."
    ),
    "tablet.unknown": (
        "The office no longer knows this tablet. Everything is kept here. Ask the foreman to enrol it again."
    ),
    "tablet.full": (
        "This tablet has no room left for what the office says. What you saved is kept here. Free some room (photos, "
        "other apps)."
    ),
    "tablet.not_taken": (
        "Not everything saved on this tablet could be taken by the office. Entries kept here: {count}. Tell the "
        "foreman."
    ),
    # What the office refuses for good: said until it is settled
    "tablet.photos_refused": (
        "Photos taken here that the office cannot keep: {count}. They stay on this tablet, on their sheets. Take them "
        "again if they matter, and tell the foreman, who settles this on the Floor."
    ),
    "tablet.stuck": (
        "The office answers but does not take what waits here. Nothing is lost: go on working, it stays on this tablet "
        "and is offered again every few minutes. Tell the foreman to enrol this tablet again (Desk, Tablets)."
    ),
    "tablet.refused": (
        "The office answers, but not as it should. Nothing is lost: go on working, everything stays on this tablet and "
        "is offered again. Tell the foreman."
    ),
    "tablet.page_away": (
        "This page comes from the office, and the office does not answer. Your sheets and My work are on this tablet."
    ),
    "pin_not_here": (
        "The office does not answer, and {name} has not signed in on this tablet before. Someone who has can go on "
        "here."
    ),
    "not_kept.quota": (
        "Not saved: this tablet has no room left. Nothing you typed is lost while this page stays open. Free some room "
        "(photos, other apps), then send it again."
    ),
    "not_kept.closed": (
        "Not saved: another page has renewed this tablet's pocket. Open this page again and send it again."
    ),
    "not_kept.blocked": "Not saved: another page keeps this tablet's pocket. Close the other pages and send it again.",
    "not_kept.unknown": (
        "Not saved: this tablet could not write it down. What you typed is still here: send it again. If it happens "
        "twice, restart the tablet and tell the foreman."
    ),
    "unsaved.no_answer": (
        "Not saved. The office does not answer. What you entered is still on this page: press the button again."
    ),
    "unsaved.not_taken": (
        "Not saved. The office could not take it. What you entered is still on this page: press the button again, "
        "and if it happens twice, tell the desk the time."
    ),
    "unsaved.signed_out": (
        "Not saved. You are signed out on this page. Write down what you entered, then open the page again and sign in."
    ),
    "unsaved.too_large": (
        "Not saved. That is more than this form can hold. Shorten what you entered and press the button again."
    ),
    # Prices, estimates and the customer's answer
    "rate_missing": "Enter what an hour costs, for example 98.50.",
    "price_missing": "Enter a price; for something that costs nothing, enter 0.",
    "price_unclear": "“{typed}” is not a clear price. Enter it like 49.90 or 49,90, without a currency.",
    "price_unclear.too_fine": "“{typed}” is finer than the smallest coin of this currency. Enter whole coins.",
    "price_unclear.thousands_ambiguous": (
        "“{typed}” can be read in two ways. Enter it without a mark between thousands, like 1250.00."
    ),
    "price_bounds": "“{typed}” cannot be a price here. Enter 0 or more, and at most a million.",
    "count_unclear": "“{typed}” is not a clear count. Enter a number above 0, like 2 or 1.5.",
    "hours_unclear": "“{typed}” is not a clear time. Enter hours like 1.5, 1,5 or 1:30.",
    "discount_bounds": "“{typed}” is no discount. Enter per cent from 0 to 100.",
    "currency_unclear": "“{typed}” is no currency code. Enter three letters, like USD or EUR.",
    "law_currency": "{law}'s rule is in {wanted}, your prices are in {typed}. Choose another rule or another currency.",
    "tax_name_missing": "Enter what the tax is called.",
    "tax_from_missing": "Enter the first day on which this rate holds.",
    "tax_rate_unclear": "Enter the rate in per cent, from 0 to 100, like 7.25. You typed “{typed}”.",
    "tax_falls_missing": "Tick what this tax falls on: labour, parts, work sent out, fees.",
    "tax_backwards": "This rate of {tax} ends before it begins. Look at both days again.",
    "tax_twice": "Two rates of {tax} hold on the same days. End the earlier one the day before the later begins.",
    "tax_hole": "There is no rate of {tax} for {day}. Complete the table of taxes under Prices first.",
    "prices_not_kept": "The workshop's rate and taxes are not entered yet. Enter them under Prices first.",
    "shop_address_missing": "An estimate carries the workshop's address. Enter it under Workshop first.",
    "estimate_none": "There is no estimate yet. Make one first.",
    "estimate_moved": (
        "Someone made a new edition since you opened this page. Open the page again: the prices may be others."
    ),
    "estimate_same": "Nothing differs from the edition before, so there is nothing to ask the customer again.",
    "estimate_expired": "This estimate was valid until {day}. Make a new edition, then ask again.",
    "why_missing": "Write down why the price changes. The customer reads it.",
    "free_not_said": "“{line}” comes to nothing. Tick “free of charge”, or enter what it costs.",
    "free_and_priced": "“{line}” is ticked as free of charge and has a price. Take one of the two away.",
    "part_name_missing": "Enter what the part is called.",
    "other_text_missing": "Enter what this is.",
    "sublet_by_missing": "Enter who does this work: the customer has to know that it is sent out.",
    "tear_down_missing": (
        "Write down what opening destroys, and whether it may not go together again. Without that nothing may be "
        "charged for it."
    ),
    "answer_lines_missing": "Record yes or no for at least one line.",
    "answer_name_missing": "Enter the name of the person who answered.",
    "agreed_already": "“{line}” is agreed at this price already.",
    "put_back_missing": "“{line}” has begun. Choose how it is left: put back as it was received, or not.",
    "way_missing": "Choose how the answer came.",
    "signature_missing": "Sign in the field, or choose “Name typed” instead.",
    "signature_short": "That is too short for a name. Clear the field and sign once more.",
    "signature_unclear": "The drawing did not come through whole. Clear the field and sign once more.",
    "tick_missing": "Tick the box: a typed name alone is not a yes.",
    "number_missing": "Enter the number that was called.",
    "mail_missing": "Enter the address the mail came from.",
    "read_out_missing": "Enter the price that was read out or written.",
    "read_out_differs": (
        "“{typed}” was read out, but the lines said yes to come to {total}. Call again, or look at the lines again."
    ),
    "said_at_missing": "Enter the day and time of the answer.",
    "said_at_ahead": "This time is still to come. Enter when the customer answered.",
    "said_at_before": "This is before the estimate was made. Enter when the customer answered this edition.",
    # Why an entry is set aside
    "step_locked": "Not yet: first do “{first}”. What you entered is kept, set aside.",
    "not_agreed": (
        "The customer has not agreed to the price of “{line}” yet. Ask the desk. What you entered is kept, set aside."
    ),
    "not_agreed.changed": (
        "The price of “{line}” has changed, and the customer has not agreed to the new one. Ask the desk. "
        "What you entered is kept, set aside."
    ),
    "not_agreed.refused": (
        "The customer does not want “{line}”. Do no more of it. What you entered is kept, set aside."
    ),
    "price_waits": "“{line}” waits for the customer's yes to its price. Ask the desk.",
    "price_waits.changed": (
        "The price of “{line}” has changed. Stop here until the customer has agreed to the new one: ask the desk."
    ),
    "price_waits.refused": "The customer does not want “{line}”. Do no more of it; ask the desk how to leave it.",
    "gate_shut": "The gate “{title}” is still shut. Answer it first. What you entered is kept, set aside.",
    "gate_stale": "The gate “{title}” has to be answered again. What you entered is kept, set aside.",
    "gate_stale.person": (
        "“{title}” was answered by someone else. Answer it yourself. What you entered is kept, set aside."
    ),
    "gate_stale.support": (
        "How the vehicle is held has changed since. Look at it, then answer the gate again. "
        "What you entered is kept, set aside."
    ),
    "gate_stale.time": (
        "The answers to “{title}” are too old. Look again and answer it again. What you entered is kept, set aside."
    ),
    "wrong_support": (
        "Now the vehicle is {now}. This wants it {wanted}. Change how it is held, then do this again. "
        "What you entered is kept, set aside."
    ),
    "wrong_support.moved": (
        "How the vehicle is held was changed since you looked: now it is {now}. Look at it, then do this again. "
        "What you entered is kept, set aside."
    ),
    "held": "A hold tag hangs here, placed by {name}: {why}. What you entered is kept, set aside.",
    "tool_unfit": "Wrench {tag} may not be used for this. Take another. What you entered is kept, set aside.",
    "tool_unfit.unknown": "Choose the wrench you read. What you entered is kept, set aside.",
    "tool_unfit.fault": (
        "Wrench {tag} is marked as faulty. Take another and tighten again. The reading is kept, set aside."
    ),
    "tool_unfit.out_of_date": (
        "Wrench {tag} was due on {due}. Take one that is in date and tighten again. The reading is kept, set aside."
    ),
    "tool_unfit.unit": "Enter what the scale of wrench {tag} says, in its own unit. The reading is kept, set aside.",
    "tool_unfit.out_of_range": (
        "This lies outside the range of wrench {tag}. Take one that reaches it. The reading is kept, set aside."
    ),
    "tool_unfit.length_unknown": (
        "The length of wrench {tag} is not known, so no sum can be done with an extension. Take the extension off, or "
        "take a wrench with a known length. The reading is kept, set aside."
    ),
    "tool_unfit.extension": (
        "With this extension no sum can be done: look at its length and angle. The reading is kept, set aside."
    ),
    "reading_outside": (
        "{typed} is not inside the window for {window}. The reading stays on record and the step stays open."
    ),
    "spec_unverified": "There is no compared figure for “{place}”, so it cannot be signed off. Ask the desk.",
    "spec_unverified.absent": (
        "Nobody has entered a figure for “{place}”. Without one it cannot be signed off: ask the desk to look it up."
    ),
    "spec_unverified.not_compared": (
        "The figure for “{place}” has not been compared with its source by a second person. Until then it cannot be "
        "signed off: ask the desk."
    ),
    "needs_second_person": "“{what}” still waits for a second person's own reading or look.",
    "same_person": "The second reading has to come from another person than {name}.",
    "step_changed": "This step was changed meanwhile. Read it again, then record it again. What you entered is kept.",
    "already_signed": "{name} has recorded this already. Yours is kept as a second record, set aside.",
    "already_signed.1": (
        "{name} has signed this off already with {first}; you read {second}. Check the joint again together. "
        "Yours is kept as a second record, set aside."
    ),
    "away_when_held": "A hold was placed while you were away. The foreman settles it. What you entered is kept.",
    "unknown_form": "This entry is in a form this office does not know. It is kept whole, set aside.",
    "not_finished": "Something is still missing: {missing}. What you entered is kept, set aside.",
    "not_finished.reason": "Write down the reason, then send it again. What you entered is kept, set aside.",
    "not_finished.text": "There is nothing in this note. Write it, then send it again.",
    "not_finished.seen": "Write down what you see, then send it again. What you entered is kept, set aside.",
    "not_finished.reading": "A reading is missing: one is wanted for every stage. What you entered is kept, set aside.",
    "not_finished.first_reading": "The first person has not signed this off yet. Yours is kept, set aside.",
    "not_finished.done": "This has not been done yet. What you entered is kept, set aside.",
    "not_finished.measure": "Still to measure: {what}. Then the step can be closed.",
    "not_finished.test": "The test has no result yet. Record what you find, then close the step.",
    "not_finished.fastener": "Still to sign off: {what}. Then the step can be closed.",
    "not_finished.new_part": "Confirm that the one-time part is new. What you entered is kept, set aside.",
    "not_finished.reading_inside": (
        "A reading of {what} lies outside its window. Repeat it until it lies inside, or ask the foreman to settle it."
    ),
    "not_finished.to": "Choose who goes on with it.",
    "not_finished.step": "Not everything is done yet: “{what}” is still open.",
    "not_finished.second_person": "“{what}” still waits for a second person's own reading or look.",
    "not_finished.hold": "A hold tag still hangs on this sheet: {what}.",
    "not_finished.aside": "Something set aside on this sheet is not settled yet.",
    "not_here": "There is no such {what} on this sheet any more. What you entered is kept, set aside.",
    "not_here.unknown": (
        "The office does not have this job. What you entered is kept, set aside; the foreman is told and looks for it."
    ),
    "not_here.cancelled": "This job was cancelled meanwhile. What you entered is kept, set aside; stop work on it.",
    "wrong_role.no_longer": (
        "{name} is not on this shop's list of people now. What was entered is kept, set aside; ask the foreman."
    ),
    "wrong_role": "This needs another role: {wanted}. What you entered is kept, set aside.",
    "handed_back": "{name} has handed this job back. Open a new job for further work.",
    # The sheet: what its forms want
    "kind_unknown": "This form is not one the office knows. Open the sheet again and use the form there.",
    "job_closed": "This job is closed. Nothing more can be recorded on it.",
    "nothing_given": "Nothing was filled in. Fill in at least one of these, then send it again.",
    "choose_one": "Choose one of the answers.",
    "answer_missing": "Answer at least one question, then send it again.",
    "observation_missing": "Choose what you find.",
    "verdict_missing": "Choose your verdict: sound, watch or replace.",
    "reason_missing": "Write down the reason.",
    "verdict_reason_missing": "Write down why: what did you see, feel or hear?",
    "seen_missing": "Write down what you see, in your own words.",
    "note_missing": "Write the note, then send it again.",
    "support_missing": "Choose how the vehicle is held now.",
    "support_axle_missing": "Choose which axle is held so.",
    "person_missing": "Choose who goes on with it.",
    "new_part_missing": "Confirm that this part is new. If it is not, fit a new one first.",
    "wrench_missing": "Choose the wrench you read.",
    "wrench_unit": "{tag} is read in {unit}. Enter what its scale says, not “{typed}”.",
    "amount_missing": "Enter the reading, for example {example}.",
    "amount_unclear": "“{typed}” is not clear. Enter a number with its unit, for example {example}.",
    "amount_unclear.unit_missing": "“{typed}” has no unit. Enter it with one, for example {example}.",
    "amount_unclear.unit_unknown": "The unit in “{typed}” is not known here. Enter it like {example}.",
    "amount_unclear.unit_ambiguous": "The unit in “{typed}” can mean two things. Enter it like {example}.",
    "amount_unclear.no_number": "There is no number in “{typed}”. Enter it like {example}.",
    "amount_unclear.thousands_ambiguous": (
        "“{typed}” can be read in two ways. Enter it with a point and no comma, like {example}."
    ),
    "amount_unclear.fraction": "The fraction in “{typed}” is not clear. Enter it like 1 1/16 in, or as a decimal.",
    "amount_unclear.too_long": "This is too long for a reading. Enter only the number and its unit, like {example}.",
    "amount_other_kind": "“{typed}” is a {got}. A {needed} is wanted here, for example {example}.",
    "amount_beyond": "“{typed}” is more than any tool here can read. Look at the scale again and enter what it says.",
    "extension_length": "Enter the extension's length, drive to fastener, for example 150 mm. At most 2 m.",
    "extension_angle": "Enter the angle out of line in whole degrees from 0 to 180; 0 is in line with the wrench.",
    # The sheet: gates, wrenches, what is spoken
    "gate_again.person": "{name} answered this at {at}. You are working here now: answer it yourself.",
    "gate_again.handed_over": "The sheet was handed over after {name} answered this at {at}. It is asked again.",
    "gate_again.support": "{name} answered this at {at}. How the vehicle is held has changed since: answer it again.",
    "gate_again.time": "{name} answered this at {at}. After {minutes} minutes it is asked again.",
    "gate_again.begun": "{name} began to answer this at {at}. One person answers all of it: begin again.",
    "gate_cleared": "{name} answered it at {at}. Asked again at {until}, and when somebody else takes over.",
    "gate_cleared.support": (
        "{name} answered it at {at}. Asked again at {until}, when the vehicle is held another way, and when somebody "
        "else takes over."
    ),
    "wrench_unfit.fault": "marked as faulty: {fault}",
    "wrench_unfit.unit": "its scale is in another unit",
    "wrench_unfit.out_of_date": "was due on {due}",
    "wrench_unfit.out_of_range": "reaches {reach} only",
    "wrench_unfit.length_unknown": "its length is not known, so no sum can be done with an extension",
    "wrench_unfit.extension": "no sum can be done with this extension: look at its length and angle",
    # What is drawn beside the values of a step
    "compared_sides.both": "Left less right, {end}: {before} before, {after} after.",
    "compared_sides.before": "Left less right, {end}: {before} before.",
    "compared_sides.after": "Left less right, {end}: {after} after.",
    "compared_sides.limit": "How far left and right may differ is the maker's to say; it is not judged here.",
    "compared_shims.same": "{bolt}: as thick as it was found.",
    "compared_shims.differs": "{bolt}: put back {by} against what was found.",
    "compared_shims.reckon": "Which shims for the {side} wheel ({change})?",
    "compared_shims.several": "{number} shims, {pack}",
    # Whoever comes back to a sheet
    "came_back.begun": "Away {minutes} minutes, since {at}? Start again at step {number}, “{step}”.",
    "came_back.fresh": (
        "Away {minutes} minutes, since {at}? Step {number}, “{step}”, comes next: nothing of it is on record yet."
    ),
    "came_back.begun_long": "Away since {at}? Start again at step {number}, “{step}”.",
    "came_back.fresh_long": "Away since {at}? Step {number}, “{step}”, comes next: nothing of it is on record yet.",
    "came_back.other": "{name} recorded something here after that, last at {at}.",
    "came_back.gate_open": "You answered the gate “{gate}” at {at}: look whether it is all still so.",
    "came_back.gate_half": "Clear at the gate “{gate}”: {done} of {total}.",
    "came_back.gate_again": "You answered the gate “{gate}” at {at}; it is asked again.",
    "came_back.read": "Measured: {done} of {total}; the reading is missing for: {left}.",
    "came_back.tightened": "Tightened: {done} of {total}; the reading is missing for: {left}.",
    "came_back.snug": "Drawn up: {done} of {total}; not yet: {left}.",
    "came_back.star": "A star that was begun is begun again: one reading stands for all its nuts.",
    "came_back.stages": (
        "{place}: {stages} stages, and none of them is on record. Find out how far it got, or loosen it and begin its "
        "stages again the way its maker says; some want new bolts for that."
    ),
    "handed_over_line": "{name} handed this over to {to} at {at}.",
    # Photos
    "photo_by": "Photo by {name}, {at}: {text}",
    "photo_by_unnamed": "Photo by {name}, {at}",
    "photos_full": "{limit} photos are on this sheet. It takes no more.",
    "photo_missing": "Take or choose a photo first.",
    "photo_kind": "This is not a JPEG, PNG or WebP picture. Take a photo, or choose one of these.",
    "photo_not_whole": "This photo cannot be read to its end. Take it again.",
    "photo_too_many_pixels": "This picture has more pixels than a tablet can show. Choose a smaller one.",
    "photo_too_large": "This photo has more than {limit} MB. Take it with a lower resolution, or make it smaller.",
    "photo_no_room_here": "The office could not keep the photo: its disk may be full. Tell the foreman. "
    "Everything else can be recorded.",
    "photo_not_here": "This photo is not here yet. The tablet it was taken with still has to send it.",
    "photo_unknown": "No entry names this photo. Its entry has to be sent first.",
    "photo_not_kept": "Photo not kept: this tablet has no room for it. Everything else can still be recorded.",
    "photo_gap": "A piece is missing: the next begins at byte {next}.",
    "photo_piece_too_large": "A piece of a photo has at most {limit} kB.",
    "photo_piece_wrong": "This piece does not say where in the photo it belongs.",
    "photo_wrong_hash": "What came is not the photo that was named. Its pieces were thrown away; "
    "send it from its beginning.",
    "photo_says_more": "This photo says more than its picture, such as where it was taken. It was not kept.",
    "photo_no_room": "The office could not keep the photo: its disk may be full. "
    "The tablet keeps it and sends it again.",
    "spoken_recorded": "Recorded: {step}.",
    "spoken_next": "Recorded. In hand: {step}.",
    "spoken_all_done": "Recorded. All steps are done.",
    # Certificates
    "office_name_missing": "Say by which name tablets reach this office: `--name office.larkfield.test`.",
    "office_name_address": (
        "“{typed}” is an address, not a name. Addresses change, and tablets would lose the office with it. Choose a "
        "name, like office.larkfield.test, and let the router's DNS lead it to this computer."
    ),
    "office_name_form": (
        "“{typed}” cannot be a name on the network. It has letters a to z, figures and hyphens, in parts with a dot "
        "between them."
    ),
    "office_name_single": (
        "“{typed}” has no dot, and not every tablet would find it. Choose a name of two parts or more, like "
        "{typed}.larkfield.test, or {typed}.local where this computer announces itself by that name."
    ),
    "office_name_other": (
        "The certificates in {folder} are for {there}, and every tablet knows the office by that name. Nothing was "
        "changed. For {typed}, move that folder away, run this again, and install the new authority on every tablet."
    ),
    "certificates_none": "There are no certificates yet. Say for which name: `--name office.larkfield.test`.",
    # Whether a tablet is ready: for each point by what was found on it
    "readiness_unreadable": "The tablet's report cannot be read. Open the page about this tablet again.",
    "readiness_told.never": "Not looked at yet.",
    "readiness_told.all": "Checked {when}: every point in order.",
    "readiness_told.missing": "Checked {when}. Not in order: {points}.",
    "readiness.all": "Every point is in order: sheets can be kept on this tablet.",
    "readiness.some": "Not in order yet: {count} of the points. Do not take this tablet to a vehicle before they are.",
    "readiness.kept": "The office has kept this.",
    "readiness.unkept": "The office has not kept this.",
    "readiness.secure.yes": "The office was reached over HTTPS, by its name.",
    "readiness.secure.here": "This is the office computer itself, which needs no HTTPS to reach its own pages.",
    "readiness.secure.plain": (
        "This page came over plain HTTP. Install the office's authority and open the https address."
    ),
    "readiness.secure.number": (
        "The office was reached by a number, which changes. Open it by its name, always the same."
    ),
    "readiness.secure.failed": (
        "This browser does not take the connection for a safe one. Install the office's authority."
    ),
    "readiness.worker.yes": "It is at work, and of the office's present bundle.",
    "readiness.worker.none": (
        "It is not at work. Enrol this tablet first; if that was done, the certificate is not trusted: install the "
        "office's authority, close the browser and open this page again."
    ),
    "readiness.worker.unable": "This browser has none. Use another browser, or one that is not in a private window.",
    "readiness.worker.older": "It is of an older bundle. Close every sheet and window of this office, and look again.",
    "readiness.worker.away": "The office did not answer. Look again in the workshop's Wi-Fi.",
    "readiness.worker.failed": "It did not answer. Close the browser, open it and look again.",
    "readiness.bundle.yes": "All {count} parts are on this tablet, each with its own SHA-256.",
    "readiness.bundle.mended": "It is whole now: {count} parts that were missing or spoilt were fetched again.",
    "readiness.bundle.none": (
        "Nothing of it is on this tablet yet. Wait a minute in the workshop's Wi-Fi and look again."
    ),
    "readiness.bundle.missing": (
        "Missing or spoilt, and not to be had anew: {count} parts. Look again in the workshop's Wi-Fi."
    ),
    "readiness.bundle.away": "The office did not answer. Look again in the workshop's Wi-Fi.",
    "readiness.bundle.failed": "It could not be read. Close the browser, open it and look again.",
    "readiness.write.yes": "A text was written for good, the store closed and opened, and the same text read.",
    "readiness.write.loose": (
        "It was written, but this browser does not wait for the disk. Bring the browser up to date."
    ),
    "readiness.write.failed": (
        "It could not be written and read back. Leave the private window, or make room on the tablet, and look again."
    ),
    "readiness.storage.yes": "The browser keeps it until someone clears it.",
    "readiness.storage.no": (
        "The browser may throw it away when room is short. Put the office on the tablet's home screen (in the "
        "browser's menu: “Add to home screen” or “Install”), open it from there and look again."
    ),
    "readiness.storage.unable": "This browser cannot promise it. Use another browser.",
    "readiness.storage.failed": "The browser did not say. Look again, or use another browser.",
    "readiness.room.yes": "{count} MB are left for entries and photos.",
    "readiness.room.little": (
        "Only {count} MB are left. Remove films, pictures or programs nobody needs from this tablet."
    ),
    "readiness.room.unable": "This browser cannot say. Use another browser.",
    "readiness.room.failed": "The browser did not say. Look again, or use another browser.",
    "readiness.clock.yes": "It differs from the office's by {count} s; up to two minutes will do.",
    "readiness.clock.slow": (
        "It is {count} minutes behind the office's. Set the tablet to take its time from the network."
    ),
    "readiness.clock.fast": (
        "It is {count} minutes ahead of the office's. Set the tablet to take its time from the network."
    ),
    "readiness.clock.away": "The office did not answer. Look again in the workshop's Wi-Fi.",
    "readiness.clock.failed": "It could not be compared. Look again.",
    "readiness.credential.yes": "The office knows this tablet.",
    "readiness.credential.none": "This tablet is not enrolled. Ask the foreman for its code, under Desk, Tablets.",
    "readiness.credential.refused": (
        "The office does not know this tablet any more. What is on it stays on it; ask the foreman before anything "
        "else."
    ),
    "readiness.credential.pocket": (
        "What this tablet keeps could not be opened. Close the other windows of this office and look again."
    ),
    "readiness.credential.away": "The office did not answer. Look again in the workshop's Wi-Fi.",
    "readiness.credential.failed": "The office did not take the report. Look again; if it stays so, tell the foreman.",
    "readiness.camera.yes": "There is one.",
    "readiness.camera.no": "None was found. Sheets work without; photos have to be taken with another tablet.",
    "readiness.camera.failed": "The browser did not say. Sheets work without; photos may not.",
    # Taking everything out and in
    "taken_folder_full": (
        "{folder} is not empty. Name a folder that is new or empty, so that nothing of another take-out gets mixed in."
    ),
    "taken_no_folder": "There is no folder {folder}. Name the folder that `take-out` made, or that you unpacked.",
    "taken_no_room": "The take-out was not finished: {what}. Make room, delete what is there, and take out again.",
    "taken_not_empty": (
        "This installation has records already ({what}). A take-out goes into an empty one only: name a new database "
        "in COTTERPIN_DATABASE_URL and try again. Nothing was changed."
    ),
    "taken_no_manifest": (
        "There is no manifest.json. Either this is another folder, or taking out was not finished; take out again."
    ),
    "taken_manifest_unread": "The manifest.json cannot be used: {what}. Copy it again from where it was made.",
    "taken_other_format": "This take-out is of format {format}, which this version does not read. Use a newer version.",
    "taken_other_form": (
        "This take-out comes from a database of form {theirs}; this version works with {ours}. Take it in with the "
        "version it was made with, then bring that one up to date."
    ),
    "taken_not_named": "The manifest does not name {path}, which every take-out has. Take out again.",
    "taken_missing": "{path} is not in the take-out. Copy it again from where the take-out was made.",
    "taken_damaged": "{path} is not what the manifest says: it was damaged or changed. Copy it again.",
    "taken_line": "{path}, line {line}, cannot be read: {what}.",
    "taken_twice": "{path} has {key} twice.",
    "taken_refers": "{path} refers to a {kind} {key} that is not in the take-out.",
    "taken_chain": "The ledger's chain is broken at line {row} of ledger.jsonl: this row was altered or moved.",
    "taken_end": "The ledger ends after {rows} rows; the manifest says {wanted}. Rows are missing at its end.",
    "taken_more": "And {count} more like these.",
}

# Short words by "group.key": states, roles, kinds. Looked up by `word`, and filled into the blanks named in FILLED.
WORDS: dict[str, str] = {
    # What a sheet asks
    "ask.again": "Why is it done again?",
    "ask.angle": "Angle out of line with the wrench",
    "ask.axle": "Which axle is held so?",
    "ask.bears": "What does it bear on?",
    "ask.bears_hint": "The place, for example “lower arms, outboard”.",
    "ask.find": "What do you find?",
    "ask.hand_over": "Who goes on with it?",
    "ask.hand_over_note": "What do they need to know?",
    "ask.held": "How is it held now?",
    "ask.hold": "What stops the work?",
    "ask.length": "Length, drive to fastener",
    "ask.lift": "What has changed?",
    "ask.not_ready": "No, or not yet",
    "ask.note": "Note",
    "ask.photo": "Photo",
    "ask.photo_name": "What does it show?",
    "ask.reason": "Reason",
    "ask.reason_customer": "In the customer's words",
    "ask.reason_hint": "Wanted for watch and replace: what did you see, feel or hear?",
    "ask.seen": "What do you see?",
    "ask.seen_hint": "In your own words, from your own look.",
    "ask.turned": "Turned further by",
    "ask.verdict": "Your verdict",
    "ask.yes": "Yes",
    # Titles of the pages that a tablet makes itself
    "title.sign_in": "Sign in",
    "title.work": "My work",
    "title.away": "The office does not answer",
    "title.sheet": "Sheet",
    # Prices, estimates and the customer's answer
    "part_condition.new": "new",
    "part_condition.used": "used",
    "part_condition.rebuilt": "rebuilt",
    "part_condition.reconditioned": "reconditioned",
    "time_basis.flat": "flat time",
    "time_basis.clock": "by the clock",
    "time_basis_all.flat": "as flat times: what is written here is what you pay, however long it takes",
    "time_basis_all.clock": "by the clock: the time worked is what you pay",
    "time_basis_all.combination": "in part as flat times and in part by the clock, as each line says",
    "price_state.waiting": "waits for your answer",
    "price_state.agreed": "agreed",
    "price_state.changed": "changed since it was agreed",
    "price_state.refused": "not wanted",
    "price_state.put_back": "not wanted; is put back as it was received",
    "answer_way.signed": "signed here",
    "answer_way.typed": "name typed and ticked here",
    "answer_way.phone": "by telephone",
    "answer_way.mail": "by mail",
    "put_back.as_received": "put back as it was received",
    "put_back.waived": "need not be put back",
    "put_back.unsafe": "cannot be put back safely",
    "rounding.half_up": "half a coin goes up",
    "rounding.half_even": "half a coin goes to the even coin",
    "rounding.down": "what is left of a coin is dropped",
    "line_kind.labour": "labour",
    "line_kind.part": "parts",
    "line_kind.sublet": "work sent out",
    "line_kind.fee": "fees",
    # Where an entry is while the office does not have it yet
    "where.tablet": "on this tablet",
    "support.on_wheels": "on its wheels",
    "support.on_ramp": "raised on a ramp, weight on the wheels",
    "support.lift_frame": "on the lift, wheels hanging",
    "support.stands_frame": "on stands under the frame",
    "support.stands_arm": "on stands under the arms",
    "support.stands_axle": "on stands under the axle",
    "axle.front": "front axle",
    "axle.rear": "rear axle",
    "axle.both": "both axles",
    "corner.left": "left",
    "corner.right": "right",
    "corner.front_left": "front left",
    "corner.front_right": "front right",
    "corner.rear_left": "rear left",
    "corner.rear_right": "rear right",
    "signal.danger": "DANGER",
    "signal.warning": "WARNING",
    "signal.caution": "CAUTION",
    "reminder.retorque": "Wheels to be torqued again",
    "reminder.calibrate": "A calibration to be finished",
    "reminder.watch": "To be looked at again",
    "history.found": "Found",
    "history.heights": "Heights",
    "history.measures": "Measures",
    "history.signed": "Signed",
    "history.parts": "Parts",
    "history.notes": "Notes",
    "history.holds": "Hold tags",
    "history.asides": "Set aside",
    "history.reminders": "Reminders",
    "job_state.open": "open",
    "job_state.handed_back": "handed back",
    "job_state.cancelled": "cancelled",
    # What is ruled out before a finding at the suspension counts, and the suspects
    "rule_out.tyres": "tyres and pressures",
    "rule_out.wheel_bearings": "wheel bearings",
    "rule_out.steering": "steering",
    "rule_out.brakes": "brakes",
    "suspects.complaint": "The complaint",
    "suspect_part.load_joint": "Ball joint that carries the load",
    "suspect_part.follower_joint": "Ball joint that guides",
    "suspect_part.axle_joint": "King pin or axle joint",
    "suspect_part.front_bushing": "Front bushing",
    "suspect_part.rear_bushing": "Rear bushing",
    "suspect_part.stabiliser_bushing": "Stabiliser bushings",
    "suspect_part.stabiliser_link": "Stabiliser link",
    "suspect_part.damper": "Damper",
    "suspect_part.damper_mount": "Damper eye or its bushing",
    "suspect_part.top_bearing": "Strut top bearing",
    "suspect_part.top_mount": "Strut top bushing",
    "suspect_part.spring": "Spring",
    "suspect_part.level_control": "Height control or controlled damper",
    "suspect_part.tyre": "Tyre",
    "suspect_part.wheel_bearing": "Wheel bearing",
    "suspect_part.steering": "Steering wheel, column, box or rack",
    "suspect_part.track_rod": "Steering linkage",
    "suspect_part.brake": "Brake",
    # Verdicts
    "verdict.sound": "sound",
    "verdict.watch": "watch",
    "verdict.replace": "replace",
    "pass.snug": "draw up snug",
    "pass.final": "tighten to the figure",
    "pass_done.snug": "drawn up snug",
    "pass_done.final": "tightened",
    "lift.two_post": "two-post lift",
    "lift.four_post": "four-post lift",
    "lift.scissor": "scissor lift",
    "lift.drive_on": "drive-on ramp",
    "lift.flat": "flat, no lift",
    "tool.torque_wrench": "torque wrench",
    "tool.stands": "axle stands",
    "tool.jack": "jack",
    "tool.spring_compressor": "spring compressor",
    "tool.lift": "lift",
    "mishap.overload": "overloaded",
    "mishap.drop": "dropped",
    "mishap.other": "something else",
    "compressor.bench": "bench compressor",
    "compressor.hooks": "pair of hooks",
    "compressor.internal": "internal, through the coil",
    "compressor.plates": "plates",
    "wrench.I A": "I A, torsion or flexion bar",
    "wrench.I B": "I B, scale or dial",
    "wrench.I C": "I C, electronic",
    "wrench.I D": "I D, screwdriver with scale or dial",
    "wrench.I E": "I E, electronic screwdriver",
    "wrench.II A": "II A, click, set on a scale",
    "wrench.II B": "II B, fixed setting",
    "wrench.II C": "II C, click, no scale",
    "wrench.II D": "II D, screwdriver, set on a scale",
    "wrench.II E": "II E, screwdriver, fixed",
    "wrench.II F": "II F, screwdriver, no scale",
    "wrench.II G": "II G, flexion bar, set on a scale",
    "basis.each": "each stand",
    "basis.pair": "the pair",
    "procedure.ball_joint": "ball joint",
    "procedure.closing": "closing",
    "procedure.opening": "opening",
    "procedure.inspection": "inspection",
    "procedure.recheck": "re-check",
    "procedure.coil_spring": "coil spring",
    "procedure.control_arm": "control arm",
    "procedure.shock_absorber": "shock absorber",
    "figure_kind.fastener": "joints to tighten",
    "figure_kind.ride_height": "ride height",
    "figure_kind.alignment": "alignment",
    "figure_kind.play": "play",
    "figure_kind.spring": "springs",
    "figure_kind.mass": "masses",
    "figure_kind.wait": "waiting times",
    "import_outcome.new": "new",
    "import_outcome.corrects": "new edition",
    "import_outcome.compared": "will be compared with another person's reading",
    "import_outcome.agrees": "agrees with another person's reading: counts",
    "import_outcome.differs": "differs from another person's reading",
    "import_outcome.same": "there already, the same",
    "import_outcome.blank": "no figure on this line, left out",
    "import_outcome.refused": "cannot be taken",
    "sheet_choice.asked": "not decided",
    "sheet_choice.keep": "keeps the edition before",
    "sheet_choice.renew": "brought up to date",
    "stand.absent": "no figure",
    "stand.waits": "waits for a second person",
    "stand.differs": "two readings differ",
    "stand.counts": "counts",
    "message.waiting": "waiting",
    "message.sent": "sent",
    "message.undeliverable": "undeliverable",
    "message.came_back": "came back",
    "layout.wishbone_lower_coil": "two arms, coil on the lower arm",
    "layout.wishbone_upper_coil": "two arms, coil on the upper arm",
    "layout.torsion_bar_lower": "two arms, torsion bar on the lower arm",
    "layout.torsion_bar_upper": "two arms, torsion bar on the upper arm",
    "layout.strut": "strut with its coil",
    "layout.strut_arm_coil": "strut, separate coil on the lower arm",
    "layout.solid_coil": "solid axle on coils",
    "layout.solid_leaf": "solid axle on leaf springs",
    "layout.twist_beam": "twist beam on coils",
    "layout.multilink_link_coil": "several links, coil on a lower link",
    "layout.air": "air springs",
    "load_joint.lower": "The lower joint carries the spring.",
    "load_joint.upper": "The upper joint carries the spring.",
    "load_joint.link_outer": "The outer joint of the spring's link carries the spring.",
    "load_joint.axle": "The axle carries the springs.",
    "load_joint.none": "No ball joint carries the spring here.",
    "load_joint.unknown": "Which joint carries the load depends on where the air spring sits.",
    # What the drawing of an axle says. `drawing_part` names what the load path goes through and what is numbered.
    "measured_column.when": "before or after the work",
    "measured_column.axle": "front or rear; may stay empty for a ride height",
    "measured_column.measure": "its key, as listed below",
    "measured_column.value": "as it was read; a bare number is in mm or in degrees",
    "asked.intake": "at the intake",
    "asked.handback": "at the handback",
    "asked.customer": "at the Desk",
    # Before and after, on the drawings of a letter
    "measured_angle.camber": "camber",
    "measured_angle.caster": "caster",
    "compared.front": "front",
    "compared.rear": "rear",
    "compared.front_left": "front left",
    "compared.front_right": "front right",
    "compared.rear_left": "rear left",
    "compared.rear_right": "rear right",
    "compared.left": "left",
    "compared.right": "right",
    "compared.before": "before",
    "compared.after": "after",
    "compared.to": "to",
    "compared.none": "not measured",
    "compared.no_shims": "no shims",
    "compared.camber": "camber, seen from behind",
    "compared.toe": "toe, seen from above, the front is up",
    "compared.caster": "caster",
    "drawing.left": "left side",
    "drawing.right": "right side",
    "drawing.both": "right side (the left is alike)",
    "drawing.behind": "seen from behind",
    "drawing.on_wheels": "The wheel stands on the floor.",
    "drawing.on_ramp": "The wheel stands on the ramp.",
    "drawing.lift_frame": "The lift bears under the frame; the wheel hangs.",
    "drawing.stands_frame": "The stand bears under the frame; the wheel hangs.",
    "drawing.stands_lower_arm": "The stand bears under the lower arm, well outboard; the wheel is clear of the floor.",
    "drawing.stands_link": "The stand bears under the link that carries the spring, close to its outer joint; "
    "the wheel is clear of the floor.",
    "drawing.stands_axle": "The stand bears under the axle; the wheel is clear of the floor.",
    "drawing.stands_beam": "The stand bears under the beam; the wheel is clear of the floor.",
    "drawing.no_arm": "There is no arm that carries the spring here. Look at what the stand really bears on.",
    "drawing.no_axle": "There is no solid axle here. Look at what the stand really bears on.",
    "drawing.path": "The weight goes through",
    "drawing.joint_loaded": "The vehicle's weight goes through the ringed joint.",
    "drawing.joint_free": "The vehicle's weight does not go through the ringed joint.",
    "drawing.spring_rests": "The vehicle's weight does not go through the spring. The spring can still push.",
    "drawing.carries": "carries the spring",
    "drawing.follower": "follower",
    "drawing.star": "Star order: cross over from nut to nut, as many as the wheel has",
    "drawing.nuts_4": "Four nuts",
    "drawing.nuts_5": "Five nuts",
    "drawing.nuts_6": "Six nuts",
    "drawing.work_here": "Work is at the filled wheel",
    "drawing.work_both": "Work is at the filled wheels",
    "drawing_wheel.front_left": "front left",
    "drawing_wheel.front_right": "front right",
    "drawing_wheel.rear_left": "rear left",
    "drawing_wheel.rear_right": "rear right",
    "drawing_part.floor": "floor",
    "drawing_part.ramp": "ramp",
    "drawing_part.lift": "lift arm and pad",
    "drawing_part.stand": "stand",
    "drawing_part.wheel": "wheel",
    "drawing_part.hub": "hub",
    "drawing_part.knuckle": "knuckle",
    "drawing_part.upper_arm": "upper arm",
    "drawing_part.lower_arm": "lower arm",
    "drawing_part.upper_joint": "upper joint",
    "drawing_part.lower_joint": "lower joint",
    "drawing_part.axle_upper": "upper axle joint or king pin",
    "drawing_part.axle_lower": "lower axle joint or king pin",
    "drawing_part.link_joint": "outer joint of the spring's link",
    "drawing_part.link": "link that carries the spring",
    "drawing_part.upper_link": "upper link",
    "drawing_part.strut": "strut",
    "drawing_part.strut_top": "top mount",
    "drawing_part.axle": "axle",
    "drawing_part.beam": "twist beam",
    "drawing_part.arm_pivot": "pivot of the beam's arm, ahead",
    "drawing_part.coil": "coil",
    "drawing_part.torsion_bar": "torsion bar, seen from its end",
    "drawing_part.leaf": "leaf spring, seen from its end",
    "drawing_part.air": "air spring",
    "drawing_part.damper": "damper",
    "drawing_part.shackle": "eyes and shackle",
    "drawing_part.frame": "frame",
    "drawing_part.body": "body",
    "role.technician": "technician",
    "role.foreman": "foreman",
    "role.desk": "desk",
    "thing.job": "job",
    "thing.reading": "reading",
    "thing.sheet": "sheet",
    "thing.step": "step",
    "thing.gate": "gate",
    "thing.check": "question",
    "thing.measure": "value",
    "thing.test": "test",
    "thing.observation": "answer",
    "thing.fastener": "joint",
    "thing.countersign": "second look",
    "thing.hold": "hold tag",
    "thing.aside": "entry set aside",
    "kind.packet_pinned": "Change of the sheet",
    "kind.gate_answered": "Answers at a gate",
    "kind.reading_taken": "Reading",
    "kind.signed_off": "Sign-off",
    "kind.countersigned": "Second reading",
    "kind.step_done": "Closing of a step",
    "kind.step_reopened": "Opening again",
    "kind.support_changed": "Change of support",
    "kind.hold_placed": "Hold tag",
    "kind.hold_lifted": "Taking a hold tag off",
    "kind.handed_over": "Hand-over",
    "kind.test_recorded": "Test",
    "kind.note_added": "Note",
    "kind.photo_added": "Photo",
    "kind.settled": "Settling",
    "kind.handed_back": "Handback",
    "finding.side": "Left less right",
    "finding.side_front": "Front, left less right",
    "finding.side_rear": "Rear, left less right",
    "finding.rake": "Rear mean less front mean",
    "finding.total_toe": "Total toe, left and right together",
    "finding.thrust": "Thrust angle, positive to the right",
    "finding.cross_camber": "Camber, left less right",
    "finding.cross_caster": "Caster, left less right",
    "finding.beyond_limit": "Beyond the limit typed here, by",
    "finding.beyond_limit_axial": "Axial play beyond the limit typed here, by",
    "finding.beyond_limit_radial": "Radial play beyond the limit typed here, by",
    "finding.within_limit": "Below the limit typed here, by",
    "finding.within_limit_axial": "Axial play below the limit typed here, by",
    "finding.within_limit_radial": "Radial play below the limit typed here, by",
    "finding.stated_left": "Left, less the maker's height",
    "finding.stated_right": "Right, less the maker's height",
    "point.step": "Still open",
    "point.second_person": "Waits for a second person",
    "point.hold": "A hold tag hangs",
    "point.aside": "Set aside",
    "outcome.do_again": "do it again",
    "outcome.keep_as_note": "keep it as a note",
    "outcome.done_since": "done since",
    "aside_now.itself": "Do it again once that is right; this is settled then.",
    "aside_now.foreman": "The foreman looks at it and settles it.",
    "readiness.secure": "Connection",
    "readiness.worker": "Worker",
    "readiness.bundle": "Bundle",
    "readiness.write": "Writing",
    "readiness.storage": "Keeping",
    "readiness.room": "Room",
    "readiness.clock": "Clock",
    "readiness.credential": "Enrolment",
    "readiness.camera": "Camera",
    "readiness_mark.yes": "in order",
    "readiness_mark.no": "not yet",
    "readiness_mark.without": "not needed",
}

WORDS |= {f"month.{number}": name for number, name in enumerate(dates.MONTHS, 1)}

# Details that pick a closer sentence, the first that has one.
VARIANTS = ("why", "missing", "unequal")

# Blanks that hold keys, not words: by code, the group of WORDS each is looked up in (several keys parted by commas).
FILLED: dict[str, dict[str, str]] = {
    "wrong_support": {"now": "support", "wanted": "support"},
    "wrong_role": {"wanted": "role"},
    "not_here": {"what": "thing"},
    "tool_unfit": {"due": "date"},
    "not_for_layout": {"says": "packet"},
    "fact_missing": {"ask": "packet", "axle": "packet"},
    "option_missing": {"ask": "packet"},
    "place_missing": {"layout": "packet"},
    "unknown_layout": {"layout": "packet"},
    # Texts of the packet, as the ledger has them: in English.
    "not_agreed": {"line": "packet"},
    "price_waits": {"line": "packet"},
    "step_locked": {"first": "packet"},
    "gate_shut": {"title": "packet"},
    "gate_stale": {"title": "packet"},
    "reading_outside": {"window": "packet"},
    "spec_unverified": {"place": "packet"},
    "needs_second_person": {"what": "packet"},
    "not_finished": {"what": "packet"},
}

# What a tablet says by itself: codes up to their first dot, and groups of words (or a word alone). The rest stays in
# the office, so that a tablet need not carry it.
TABLET_CODES = frozenset((
    "choose_person", "pin_wrong", "pin_locked", "pin_not_here", "tablet", "saved", "not_kept",
    # Why an entry is set aside
    "step_locked", "not_agreed", "price_waits", "gate_shut", "gate_stale", "wrong_support", "held", "tool_unfit",
    "reading_outside",
    "spec_unverified", "needs_second_person", "same_person", "step_changed", "already_signed", "away_when_held",
    "unknown_form", "not_finished", "not_here", "wrong_role", "handed_back",
    # What a sheet's forms want
    "kind_unknown", "job_closed", "too_long", "nothing_given", "choose_one", "answer_missing", "observation_missing",
    "verdict_missing", "reason_missing", "verdict_reason_missing", "seen_missing", "note_missing", "support_missing",
    "support_axle_missing", "person_missing", "new_part_missing", "wrench_missing", "wrench_unit", "amount_missing",
    "amount_unclear", "amount_other_kind", "amount_beyond", "extension_length", "extension_angle",
    # What a sheet shows and speaks
    "compared_sides", "compared_shims", "came_back",
    "gate_again", "gate_cleared", "wrench_unfit", "handed_over_line", "spoken_recorded", "spoken_next",
    "spoken_all_done", "photo_by", "photo_by_unnamed", "photos_full", "photo_missing", "photo_kind", "photo_not_kept",
    # What was not taken, or not kept
    "unsaved", "saved", "not_kept", "tablet", "shown",
))  # fmt: skip
TABLET_WORDS = frozenset((
    "ask", "title", "where", "support", "axle", "corner", "signal", "verdict", "pass", "pass_done", "layout",
    "load_joint", "role", "thing", "kind", "finding", "point", "aside_now", "drawing.star",
    "month",
    "load_joint", "role", "thing", "kind", "finding", "compared", "measured_angle", "point", "aside_now",
    "drawing.star",
))  # fmt: skip


class _Blanks(dict[str, object]):
    def __missing__(self, key: str) -> str:
        return "…"


def sentence(code: str, **blanks: object) -> str:
    """The sentence for a code with its blanks filled; a code without one is named, never hidden."""
    text = SENTENCES.get(code)
    if text is None:
        return _("Something is not right here ({code}).", code=code)
    return translated(text, spoken()).format_map(_Blanks(blanks))


def say(problem: Problem) -> str:
    return say_ruling(problem.code, problem.details)


def say_ruling(reason: str, details: Mapping[str, str | int]) -> str:
    """The sentence for a reason and its details, at both ends the same way.

    A detail of `VARIANTS` picks a closer sentence where there is one ("gate_stale" with why "time": "gate_stale.time");
    blanks of `FILLED` hold keys and are put into words.
    """
    closer = (f"{reason}.{details[name]}" for name in VARIANTS if name in details)
    code = next((one for one in closer if one in SENTENCES), reason)
    groups = FILLED.get(reason, {})
    return sentence(code, **{
        name: in_words(groups[name], str(value)) if name in groups else value for name, value in details.items()
    })  # fmt: skip


def in_words(group: str, keys: str) -> str:
    """Words for a key of a group, or for several keys parted by commas: "on its wheels or on stands"; or for a date,
    or for a text of the packet."""
    if group == "date":
        return dates.date_words(keys, word)
    if group == "packet":
        return said(keys)
    return _(" or ").join(word(f"{group}.{key.strip()}") for key in keys.split(","))


def word(key: str) -> str:
    """A short word by "group.key"; one that is not in the list is shown as it is, never hidden."""
    text = WORDS.get(key)
    return translated(text, spoken()) if text is not None else key.partition(".")[2].replace("_", " ")


def time_words(at: datetime, now: datetime, zone: tzinfo) -> str:
    """An instant as the shop reads it, in the spoken language."""
    return dates.time_words(at, now, zone, word)


def table() -> dict[str, Any]:
    """What the tablet's twin of these functions speaks from. Sentences keep to `{name}`, which both ends fill alike."""
    return {
        "sentences": {code: _(text) for code, text in SENTENCES.items() if code.partition(".")[0] in TABLET_CODES},
        "words": {key: _(text) for key, text in WORDS.items() if {key, key.partition(".")[0]} & TABLET_WORDS},
        "unknown": _("Something is not right here ({code})."),
        "or": _(" or "),
        "variants": list(VARIANTS),
        "filled": {code: dict(blanks) for code, blanks in FILLED.items() if code in TABLET_CODES},
    }
