#!/usr/bin/env python3
"""Times scipy's bare short-time Fourier transform of a WAV file: seconds of processor time, best of three.

Usage: scipy_stft.py FILE.wav WINDOW HOP     (Debian: python3-scipy). Reading the file is not counted.
"""
import sys
import time

import scipy.io.wavfile
import scipy.signal

rate, samples = scipy.io.wavfile.read(sys.argv[1])
samples = samples.astype("float64") / 32768.0
window, hop = int(sys.argv[2]), int(sys.argv[3])
best = 1e9
for _ in range(3):
    start = time.process_time()
    spectrum = scipy.signal.stft(samples, rate, nperseg=window, noverlap=window - hop)[2]
    best = min(best, time.process_time() - start)
    del spectrum
print(best)
