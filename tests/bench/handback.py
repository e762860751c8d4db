"""The letter on paper with 20 photos and 6 drawings: time and memory, each in a process of its own.

Run: `.venv/bin/python -m tests.bench.handback`. Photos are JPEGs as a tablet sends them (about 250 kB each), made here;
drawings are the invented workshop's. Beside it, in the same run: the letter without any picture. Peaks are the whole
process's, Python and the libraries included; the process that makes nothing is given too.
Times are the processor's, which a busy machine does not stretch. The first counts: typst remembers what it has set.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO

from PIL import Image

from app.domain.handback import Drawn
from app.mail.drawings import letter_drawings
from app.mail.render import write_letter
from app.ports import Paper
from app.print.printer import TypstPrinter
from app.use_cases.before_after import Compared, ComparedValue
from app.use_cases.handback_letter import AxleFact, Deed, HandbackFacts, PhotoFact, handback_facts
from app.web.rendering import environment
from tests.unit.mail_cast import CUSTOMER, JOB, SHOP, VEHICLE, a_closed_sheet

PHOTOS, DRAWINGS, TIMES = 20, 6, 5
WIDE, HIGH = 1_600, 1_200
LIMIT_S, LIMIT_MB = 5.0, 400  # what a small PC may be asked for while the workshop works
NOON = datetime(2026, 3, 12, 12, tzinfo=UTC)


def a_jpeg(number: int) -> bytes:
    """A picture with something on every square of it, about as large as a photo from a bay."""
    noise = Image.effect_noise((WIDE // 4, HIGH // 4), 40 + number).resize((WIDE, HIGH))
    out = BytesIO()
    Image.merge("RGB", (noise, noise.rotate(90, expand=False), noise.transpose(Image.Transpose.ROTATE_180))).save(
        out, "JPEG", quality=82
    )
    return out.getvalue()


def facts_with(photos: list[str]) -> HandbackFacts:
    """The builders' letter with four corners, heights and one axle's alignment drawn: six drawings."""
    facts = handback_facts(SHOP, CUSTOMER, VEHICLE, JOB, a_closed_sheet())
    corners = [AxleFact(axle, side, VEHICLE.front.layout, VEHICLE.front.layout) for axle in ("front", "rear")
               for side in ("left", "right")]  # fmt: skip
    heights = tuple(
        ComparedValue(key, key, "643 mm", "656 mm", "+13 mm", 643_000, 656_000)
        for key in ("front_left", "front_right", "rear_left", "rear_right")
    )
    angles = tuple(
        ComparedValue(key, key, "−1.35°", "−0.85°", "+0.5°", -1_350, -850) for key in ("camber_left", "toe_left")
    )
    by = Deed("Tomas Brandt", "12 Mar 2026, 09:30")
    return replace(
        facts,
        axles=tuple(corners) if photos else (),
        compared=(
            (Compared("heights", "", heights, "heights"), Compared("alignment", "front", angles, "alignment-front"))
            if photos
            else ()
        ),
        photos=tuple(PhotoFact(one, "Look at each corner", "As it came in", by) for one in photos),
    )


def a_paper(count: int) -> Paper:
    photos = {f"{number:064x}": a_jpeg(number) for number in range(count)}
    facts = facts_with(list(photos))
    letter = write_letter(environment(), facts)
    drawings: tuple[Drawn, ...] = letter_drawings(environment(), facts)
    assert len(drawings) == (DRAWINGS if count else 0), [one.name for one in drawings]
    return Paper(letter.subject, SHOP.name, "en", letter.paper, letter.drawings, photos, NOON)


def measured(count: int) -> dict[str, float]:
    """One letter in this process: seconds of the fastest of five, its size, and the process's peak."""
    paper, printer = a_paper(max(count, 0)), TypstPrinter()
    took, size = [], 0
    for _ in range(TIMES if count >= 0 else 0):
        began = time.process_time()
        printed = printer.pdf(paper)
        took.append(time.process_time() - began)
        size = len(printed.pdf)
        assert not printed.left_out
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1_024
    given = sum(map(len, paper.photos.values())) / 1e6
    return {
        "first": took[0] if took else 0,
        "best": min(took, default=0),
        "mb": size / 1e6,
        "peak": peak,
        "given": given,
    }


def in_a_process(count: int) -> dict[str, float]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.handback", str(count)], capture_output=True, text=True, check=True
    )
    found: dict[str, float] = json.loads(done.stdout)
    return found


def main() -> int:
    if len(sys.argv) > 1:
        print(json.dumps(measured(int(sys.argv[1]))))
        return 0
    nothing, plain, full = in_a_process(-1), in_a_process(0), in_a_process(PHOTOS)
    print(f"nothing made                     peak {nothing['peak']:6.0f} MB")
    for words, one in (("no picture", plain), (f"{PHOTOS} photos, {DRAWINGS} drawings", full)):
        print(
            f"{words:<24} first {one['first']:5.2f} s  best {one['best']:5.2f} s  PDF {one['mb']:5.2f} MB "
            f"of {one['given']:.2f} MB of photos  peak {one['peak']:6.0f} MB"
        )
    slow, large = full["first"] > LIMIT_S, full["peak"] - nothing["peak"] > LIMIT_MB
    kept = "over" if slow or large else "kept"
    print(f"limits: {LIMIT_S:g} s, {LIMIT_MB} MB beyond a process that makes nothing: {kept}")
    return 1 if slow or large else 0


if __name__ == "__main__":
    raise SystemExit(main())
