"""Times OpenCV's chart finder (module mcc) on pictures, one thread, warm: prints milliseconds and whether it found one.

Called by `benches/card.rs`; needs `pip install opencv-contrib-python-headless`. Never a dependency of the program.
"""

import sys
import time

import cv2

REPEATS = 5

cv2.setNumThreads(1)
for name in sys.argv[1:]:
    picture = cv2.imread(name)
    best, found = float("inf"), False
    for _ in range(REPEATS):
        finder = cv2.mcc.CCheckerDetector_create()
        start = time.perf_counter()
        try:
            found = finder.process(picture)
        except TypeError:
            found = finder.process(picture, cv2.mcc.MCC24)
        best = min(best, time.perf_counter() - start)
    print(f"{best * 1e3:.2f} {int(bool(found))}")
