"""Tracings read from photos: how far they lie from what was drawn, over many invented photos.

Run as `python -m benchmarks.tracing --cases 200`. Times are of a loaded or an idle machine as it may be.
"""

import argparse

import numpy as np

from saddlebench.demo.tracing_cases import NEVER_MM, RMS_MM, WORST_MM, Answer, answer_of, case_of


def main() -> None:
    """Print each case that misses, and the summary."""
    asked = argparse.ArgumentParser(prog="benchmarks.tracing")
    asked.add_argument("--cases", type=int, default=200)
    asked.add_argument("--first", type=int, default=0)
    wanted, _ = asked.parse_known_args()
    easy: list[Answer] = []
    hard: list[Answer] = []
    for seed in range(wanted.first, wanted.first + wanted.cases):
        case = case_of(seed)
        answer = answer_of(case)
        (hard if case.is_hard else easy).append(answer)
        limit = NEVER_MM if case.is_hard else WORST_MM
        if answer.worst_mm > limit or (
            not case.is_hard and (answer.said or answer.lost or answer.rms_mm > RMS_MM)
        ):
            print(seed, answer, flush=True)
    for words, answers in (("ordinary", easy), ("hard", hard)):
        read = [one for one in answers if not one.said]
        rms = np.array([one.rms_mm for one in read] or [0.0])
        worst = np.array([one.worst_mm for one in read] or [0.0])
        lost = sum(one.lost > 0 for one in read)
        kept = np.array([one.kept for one in read] or [0.0])
        print(
            f"{words}: {len(answers)} cases, {len(read)} read, {lost} with a curve too few or many; "
            f"RMS median {np.median(rms):.2f}, worst {rms.max():.2f} mm; worst point {worst.max():.2f} mm; "
            f"over {NEVER_MM:g} mm: {int((worst > NEVER_MM).sum())}; "
            f"of a curve read: median {100 * np.median(kept):.0f} %, least {100 * kept.min():.0f} %, "
            f"{int((kept < 0.9).sum())} with one under 90 %; "
            f"median {np.median([one.seconds for one in answers]):.1f} s a photo"
        )


if __name__ == "__main__":
    main()
