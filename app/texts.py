"""Every sentence about a problem that a person reads, by code. Short, present tense; says what to do.

`sentence("pin_wrong", left=2)` gives the text. Words for reasons of a ruling live here too, so that server and tablet
say the same. A contract test fails when a code is raised that has no sentence, or a sentence has a blank nobody fills.
"""

from __future__ import annotations

from collections.abc import Mapping

from app.domain.dates import date_words
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
    "lift_short.never": "not to be used: nobody has entered an inspection of this lift",
    "lift_short.overdue": "not to be used: its inspection was due by {due}",
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
    # Why an entry is set aside
    "step_locked": "Not yet: first do “{first}”. What you entered is kept, set aside.",
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
    "handed_over_line": "{name} handed this over to {to} at {at}.",
    "spoken_recorded": "Recorded: {step}.",
    "spoken_next": "Recorded. In hand: {step}.",
    "spoken_all_done": "Recorded. All steps are done.",
}

# Short words by "group.key": states, roles, kinds. Looked up by `word`, and filled into the blanks named in FILLED.
WORDS: dict[str, str] = {
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
    "basis.each": "each stand",
    "basis.pair": "the pair",
    "procedure.ball_joint": "ball joint",
    "procedure.closing": "closing",
    "procedure.opening": "opening",
    "procedure.coil_spring": "coil spring",
    "procedure.control_arm": "control arm",
    "procedure.shock_absorber": "shock absorber",
    "stand.absent": "no figure",
    "stand.waits": "waits for a second person",
    "stand.differs": "two readings differ",
    "stand.counts": "counts",
    "message.waiting": "waiting",
    "message.sent": "sent",
    "message.undeliverable": "undeliverable",
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
    "point.step": "Still open",
    "point.second_person": "Waits for a second person",
    "point.hold": "A hold tag hangs",
    "point.aside": "Set aside",
    "outcome.do_again": "do it again",
    "outcome.keep_as_note": "keep it as a note",
    "outcome.done_since": "done since",
    "aside_now.itself": "Do it again once that is right; this is settled then.",
    "aside_now.foreman": "The foreman looks at it and settles it.",
}

# Details that pick a closer sentence, the first that has one.
VARIANTS = ("why", "missing", "unequal")

# Blanks that hold keys, not words: by code, the group of WORDS each is looked up in (several keys parted by commas).
FILLED: dict[str, dict[str, str]] = {
    "wrong_support": {"now": "support", "wanted": "support"},
    "wrong_role": {"wanted": "role"},
    "not_here": {"what": "thing"},
    "tool_unfit": {"due": "date"},
}


class _Blanks(dict[str, object]):
    def __missing__(self, key: str) -> str:
        return "…"


def sentence(code: str, **blanks: object) -> str:
    """The sentence for a code with its blanks filled; a code without one is named, never hidden."""
    text = SENTENCES.get(code)
    return text.format_map(_Blanks(blanks)) if text is not None else f"Something is not right here ({code})."


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
    """Words for a key of a group, or for several keys parted by commas: "on its wheels or on stands"; or for a date."""
    if group == "date":
        return date_words(keys)
    return " or ".join(word(f"{group}.{key.strip()}") for key in keys.split(","))


def word(key: str) -> str:
    """A short word by "group.key"; one that is not in the list is shown as it is, never hidden."""
    return WORDS.get(key, key.partition(".")[2].replace("_", " "))
