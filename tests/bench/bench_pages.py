"""How long a page takes, laid out, engraved and printed; and the bare engraver beside it."""

import resource
import time
from collections.abc import Callable
from typing import Any

from midifret.pages.bars import lay_out
from midifret.pages.beside import ANSWER, beside
from midifret.pages.engraver import engrave
from midifret.pages.mei import to_mei
from midifret.pages.printer import Format, printed
from midifret.pages.score_page import score_document
from tests.pages.tunes import STANDARD, fingered, line

BAR = "E4:1/2 F4:1/2 G4:1/2 A4:1/2 B3:1/2 C4:1/2 D4:1/2 A3:1/2 F#4:1/2 A4:1/2"


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    begun = time.perf_counter()
    made = work()
    return time.perf_counter() - begun, made


def main() -> None:
    print("  notes  lay out  bare engraver  all apart     PDF     PNG  pages   (seconds)")
    for tens in (2, 10, 100, 500):
        score = line(" ".join([BAR] * tens))
        fingering = fingered(score, 2)
        laying_s, laid = timed(lambda score=score: lay_out(score))
        mei = to_mei(laid, beside(score, fingering, STANDARD, ANSWER), STANDARD)
        bare_s, _ = timed(lambda mei=mei: engrave(mei, width_mm=174, staff_mm=7))
        whole_s, (document, _) = timed(
            lambda score=score, fingering=fingering: score_document(
                score, fingering, neck=STANDARD, shown=ANSWER, position=2
            )
        )
        pdf_s, _ = timed(lambda document=document: printed(document, Format.PDF))
        png_s, pages = timed(lambda document=document: printed(document, Format.PNG))
        print(
            f"{len(score.notes):7,} {laying_s:8.2f} {bare_s:14.2f} {whole_s:10.2f} "
            f"{pdf_s:7.2f} {png_s:7.2f} {len(pages):6}"
        )
    most_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    child_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024
    print(f"most memory: {most_mb} MB here, {child_mb} MB in the engraver's process")


if __name__ == "__main__":
    main()
