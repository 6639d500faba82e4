// Host for the class that the Faust compiler makes of bench/acoustics_graph.dsp.
#pragma once

double phren_faust_ns_per_sample(double sample_rate_hz);
