// What it costs to measure an hour of sound: the whole `phren measure`, reading the file and
// writing JSON included, beside scipy's and FFTW's bare transforms of the same samples, in one run.
// FFTW is a yardstick only; nothing of Phren links it.
//
// Usage: measurement_bench [--benchmark_...]  (options of other benchmarks are ignored)
// The hour is made up (breaths with wheezes and crackles), or, with PHREN_RECORDINGS set to a
// folder of recordings, put together from those.
#include <malloc.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <string>
#include <vector>

#include "measurement/sounds.h"
#include "signal/audio_file.h"
#include "signal/resample.h"

#ifdef PHREN_HAS_FFTW
#include <fftw3.h>
#endif

namespace {

namespace fs = std::filesystem;
using phren::signal::Audio;

struct Cost {
  double cpu_s = -1.0;  // -1: could not be run
  long peak_kB = 0;
};

// Runs a program with its output sent to `output`; processor time and peak memory of that program.
Cost run(const std::vector<std::string>& words, const std::string& output) {
  const pid_t child = fork();
  if (child == 0) {
    std::vector<char*> arguments;
    for (const auto& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
    arguments.push_back(nullptr);
    if (std::freopen(output.c_str(), "w", stdout) == nullptr) _exit(126);
    if (std::freopen("/dev/null", "w", stderr) == nullptr) _exit(126);
    execvp(arguments[0], arguments.data());
    _exit(127);
  }
  int status = 0;
  rusage usage{};
  if (child < 0 || wait4(child, &status, 0, &usage) < 0 || !WIFEXITED(status) ||
      WEXITSTATUS(status) != 0)
    return {};
  const auto seconds = [](const timeval& t) {
    return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
  };
  return {seconds(usage.ru_utime) + seconds(usage.ru_stime), usage.ru_maxrss};
}

Cost best_of(int times, const std::vector<std::string>& words, const std::string& output) {
  Cost best;
  for (int i = 0; i < times; ++i) {
    const Cost cost = run(words, output);
    if (cost.cpu_s >= 0.0 && (best.cpu_s < 0.0 || cost.cpu_s < best.cpu_s)) best = cost;
  }
  return best;
}

Audio made_up(double seconds) {
  using namespace phren::measurement;
  auto x = test::breathing(300.0, 20.0, 7.0, 11);
  for (int breath = 0; breath < 100; ++breath) {
    if (breath % 7 == 3) test::add_tone(x, 300.0 + 5.0 * breath, 3.0 * breath + 1.3, 0.6, 0.006);
    if (breath % 5 == 2)
      for (int c = 0; c < 5; ++c)
        test::add_crackle(x, 3.0 * breath + 0.3 + 0.09 * c, 0.8, 6.0, 0.02);
  }
  const Audio five_minutes = *phren::signal::resample({kWorkRate_hz, x}, 8000.0);
  Audio out{8000.0, {}};
  const auto wanted = static_cast<std::size_t>(seconds * 8000.0);
  while (out.samples.size() < wanted)
    out.samples.insert(out.samples.end(), five_minutes.samples.begin(), five_minutes.samples.end());
  out.samples.resize(wanted);
  return out;
}

Audio from_recordings(const fs::path& folder, double seconds) {
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(folder)) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  Audio out{8000.0, {}};
  const auto wanted = static_cast<std::size_t>(seconds * 8000.0);
  for (std::size_t i = 0; out.samples.size() < wanted && !files.empty(); ++i) {
    // Every 7th, so that neighbours are other patients.
    const auto audio = phren::signal::read_audio(files[(7 * i) % files.size()]);
    if (audio && audio->sample_rate_hz == 8000.0)
      out.samples.insert(out.samples.end(), audio->samples.begin(), audio->samples.end());
  }
  out.samples.resize(wanted);
  return out;
}

double fftw_seconds([[maybe_unused]] const Audio& audio, [[maybe_unused]] std::size_t window,
                    [[maybe_unused]] std::size_t hop) {
#ifdef PHREN_HAS_FFTW
  float* in = fftwf_alloc_real(window);
  fftwf_complex* out = fftwf_alloc_complex(window / 2 + 1);
  fftwf_plan plan = fftwf_plan_dft_r2c_1d(static_cast<int>(window), in, out, FFTW_MEASURE);
  std::vector<float> taper(window), power(window / 2 + 1);
  for (std::size_t n = 0; n < window; ++n)
    taper[n] = 0.5f - 0.5f * std::cos(2.0f * static_cast<float>(M_PI) * static_cast<float>(n) /
                                      static_cast<float>(window));
  double best = 1e9;
  for (int i = 0; i < 3; ++i) {
    const std::clock_t start = std::clock();
    for (std::size_t at = 0; at + window <= audio.samples.size(); at += hop) {
      for (std::size_t n = 0; n < window; ++n) in[n] = audio.samples[at + n] * taper[n];
      fftwf_execute(plan);
      for (std::size_t k = 0; k <= window / 2; ++k)
        power[k] = out[k][0] * out[k][0] + out[k][1] * out[k][1];
    }
    best = std::min(best, static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC);
  }
  fftwf_destroy_plan(plan);
  fftwf_free(in);
  fftwf_free(out);
  return best;
#else
  return -1.0;
#endif
}

void line(const std::string& what, double seconds, double scipy_s, double fftw_s) {
  if (seconds < 0.0) {
    std::printf("%-46s not run\n", what.c_str());
    return;
  }
  std::printf("%-46s %7.3f s", what.c_str(), seconds);
  if (scipy_s > 0.0) std::printf("  %6.2f x scipy", seconds / scipy_s);
  if (fftw_s > 0.0) std::printf("  %6.2f x FFTW", seconds / fftw_s);
  std::printf("  %8.0f x real time\n", 3600.0 / seconds);
}

}  // namespace

int main() {
  const fs::path folder = fs::temp_directory_path() / ("phren_bench_" + std::to_string(getpid()));
  fs::create_directories(folder);
  const char* recordings = std::getenv("PHREN_RECORDINGS");
  const std::string hour_wav = (folder / "hour.wav").string(),
                    minute_wav = (folder / "minute.wav").string();
  {  // let go of the hour before programs are started: their peak memory counts from ours
    Audio audio = recordings != nullptr ? from_recordings(recordings, 3600.0) : made_up(3600.0);
    const bool is_written = phren::signal::write_audio(hour_wav, audio).has_value();
    audio.samples.resize(60 * 8000);
    if (!is_written || !phren::signal::write_audio(minute_wav, audio)) {
      std::fprintf(stderr, "measurement_bench: cannot write to %s\n", folder.c_str());
      return 1;
    }
  }
  malloc_trim(0);
  const std::string program = PHREN_PROGRAM, out = (folder / "out.txt").string();
  constexpr std::size_t kWindow = 512, kHop = 128;  // 64 ms every 16 ms at the file's own 8 kHz
  const Cost fast = best_of(3, {program, "measure", "--json", "--fast", hour_wav}, out);
  const Cost full = best_of(2, {program, "measure", "--json", hour_wav}, out);
  const Cost minute_fast = run({program, "measure", "--json", "--fast", minute_wav}, out);
  const Cost minute_full = run({program, "measure", "--json", minute_wav}, out);
  double scipy_s = -1.0;
  const std::string scipy_out = (folder / "scipy.txt").string();
  for (const char* python : {"/usr/bin/python3", "python3"}) {
    if (run({python, PHREN_SCIPY_SCRIPT, hour_wav, std::to_string(kWindow), std::to_string(kHop)},
            scipy_out)
            .cpu_s < 0.0)
      continue;
    if (std::FILE* file = std::fopen(scipy_out.c_str(), "r")) {
      if (std::fscanf(file, "%lf", &scipy_s) != 1) scipy_s = -1.0;
      std::fclose(file);
    }
    break;
  }
  const double fftw_s = fftw_seconds(*phren::signal::read_audio(hour_wav), kWindow, kHop);
  std::printf("one hour at 8 kHz, %s; processor time\n",
              recordings != nullptr ? "real recordings" : "made-up breaths");
  line("scipy, bare STFT (512 / 128, double)", scipy_s, scipy_s, fftw_s);
  line("FFTW, bare STFT and power (512 / 128, float)", fftw_s, scipy_s, fftw_s);
  line("phren measure --fast --json", fast.cpu_s, scipy_s, fftw_s);
  line("phren measure --json", full.cpu_s, scipy_s, fftw_s);
  std::printf(
      "peak memory, --fast: minute %ld kB, hour %ld kB (%+.1f %%)\n", minute_fast.peak_kB,
      fast.peak_kB,
      100.0 * (static_cast<double>(fast.peak_kB) / static_cast<double>(minute_fast.peak_kB) - 1.0));
  std::printf(
      "peak memory, full:   minute %ld kB, hour %ld kB (%+.1f %%)\n", minute_full.peak_kB,
      full.peak_kB,
      100.0 * (static_cast<double>(full.peak_kB) / static_cast<double>(minute_full.peak_kB) - 1.0));
  fs::remove_all(folder);
  return 0;
}
