#include "measurement/features.h"

namespace phren::measurement {
namespace {

struct Name {
  std::string_view key, words;
};

constexpr std::array<Name, kNumFeatures> kNames{{
    {"duration_s", "duration"},
    {"level_over_record_db", "loudness over the rest of the recording"},
    {"share_below_60hz", "share of energy below 60 Hz"},
    {"band_50_db", "energy in 50-100 Hz"},
    {"band_100_db", "energy in 100-150 Hz"},
    {"band_150_db", "energy in 150-200 Hz"},
    {"band_200_db", "energy in 200-300 Hz"},
    {"band_300_db", "energy in 300-400 Hz"},
    {"band_400_db", "energy in 400-500 Hz"},
    {"band_500_db", "energy in 500-650 Hz"},
    {"band_650_db", "energy in 650-800 Hz"},
    {"band_800_db", "energy in 800-1000 Hz"},
    {"band_1000_db", "energy in 1000-1300 Hz"},
    {"band_50_spread_db", "unsteadiness of 50-100 Hz"},
    {"band_100_spread_db", "unsteadiness of 100-150 Hz"},
    {"band_150_spread_db", "unsteadiness of 150-200 Hz"},
    {"band_200_spread_db", "unsteadiness of 200-300 Hz"},
    {"band_300_spread_db", "unsteadiness of 300-400 Hz"},
    {"band_400_spread_db", "unsteadiness of 400-500 Hz"},
    {"band_500_spread_db", "unsteadiness of 500-650 Hz"},
    {"band_650_spread_db", "unsteadiness of 650-800 Hz"},
    {"band_800_spread_db", "unsteadiness of 800-1000 Hz"},
    {"band_1000_spread_db", "unsteadiness of 1000-1300 Hz"},
    {"band_50_peak_db", "highest over usual level of 50-100 Hz"},
    {"band_100_peak_db", "highest over usual level of 100-150 Hz"},
    {"band_150_peak_db", "highest over usual level of 150-200 Hz"},
    {"band_200_peak_db", "highest over usual level of 200-300 Hz"},
    {"band_300_peak_db", "highest over usual level of 300-400 Hz"},
    {"band_400_peak_db", "highest over usual level of 400-500 Hz"},
    {"band_500_peak_db", "highest over usual level of 500-650 Hz"},
    {"band_650_peak_db", "highest over usual level of 650-800 Hz"},
    {"band_800_peak_db", "highest over usual level of 800-1000 Hz"},
    {"band_1000_peak_db", "highest over usual level of 1000-1300 Hz"},
    {"centroid_hz", "centre of the spectrum"},
    {"bandwidth_hz", "width of the spectrum"},
    {"rolloff_25_hz", "frequency below which 25 % of the energy lies"},
    {"rolloff_50_hz", "frequency below which 50 % of the energy lies"},
    {"rolloff_75_hz", "frequency below which 75 % of the energy lies"},
    {"rolloff_85_hz", "frequency below which 85 % of the energy lies"},
    {"rolloff_95_hz", "frequency below which 95 % of the energy lies"},
    {"entropy", "evenness of the spectrum"},
    {"slope_db_per_octave", "slope of the spectrum"},
    {"flatness_80_250_db", "flatness of 80-250 Hz"},
    {"flatness_250_600_db", "flatness of 250-600 Hz"},
    {"flatness_600_1300_db", "flatness of 600-1300 Hz"},
    {"centroid_loudest_hz", "centre of the spectrum where it is loudest"},
    {"tone_80_mean_db", "usual height of the strongest tone in 80-250 Hz"},
    {"tone_80_high_db", "greatest height of a tone in 80-250 Hz"},
    {"tone_80_share_8", "share of time with a tone 8 dB up in 80-250 Hz"},
    {"tone_80_share_12", "share of time with a tone 12 dB up in 80-250 Hz"},
    {"tone_250_mean_db", "usual height of the strongest tone in 250-600 Hz"},
    {"tone_250_high_db", "greatest height of a tone in 250-600 Hz"},
    {"tone_250_share_8", "share of time with a tone 8 dB up in 250-600 Hz"},
    {"tone_250_share_12", "share of time with a tone 12 dB up in 250-600 Hz"},
    {"tone_600_mean_db", "usual height of the strongest tone in 600-1300 Hz"},
    {"tone_600_high_db", "greatest height of a tone in 600-1300 Hz"},
    {"tone_600_share_8", "share of time with a tone 8 dB up in 600-1300 Hz"},
    {"tone_600_share_12", "share of time with a tone 12 dB up in 600-1300 Hz"},
    {"ridge_low_db", "strength of the best continuous tone in 80-250 Hz"},
    {"ridge_low_best_db", "strength of its best 100 ms, 80-250 Hz"},
    {"ridge_low_longest_s", "longest stretch of it 8 dB up, 80-250 Hz"},
    {"ridge_low_share", "share of time it is 8 dB up, 80-250 Hz"},
    {"ridge_low_hz", "its frequency, 80-250 Hz"},
    {"ridge_high_db", "strength of the best continuous tone in 250-1300 Hz"},
    {"ridge_high_best_db", "strength of its best 100 ms, 250-1300 Hz"},
    {"ridge_high_longest_s", "longest stretch of it 8 dB up, 250-1300 Hz"},
    {"ridge_high_share", "share of time it is 8 dB up, 250-1300 Hz"},
    {"ridge_high_hz", "its frequency, 250-1300 Hz"},
    {"autocorrelation_peak", "regularity of the waveform"},
    {"autocorrelation_hz", "frequency of that regularity"},
    {"kurtosis", "peakedness of the waveform"},
    {"kurtosis_above_200hz", "peakedness of the waveform above 200 Hz"},
    {"kurtosis_residual", "peakedness of what cannot be predicted from the samples before"},
    {"kurtosis_teager", "peakedness of the instantaneous energy"},
    {"transient_share_6", "share of time 6 dB over the local background"},
    {"transient_share_9", "share of time 9 dB over the local background"},
    {"transient_share_12", "share of time 12 dB over the local background"},
    {"crackle_count", "number of crackles"},
    {"crackle_rate_per_s", "crackles a second"},
    {"crackle_height_mean_db", "usual height of the crackles"},
    {"crackle_height_max_db", "height of the highest crackle"},
    {"crackle_interval_ms", "usual time between crackles"},
    {"crackle_position", "place of the crackles in the breath"},
    {"crackle_idw_ms", "usual initial deflection width of the crackles"},
    {"crackle_2cd_ms", "usual two-cycle duration of the crackles"},
    {"crackle_ldw_ms", "usual largest deflection width of the crackles"},
    {"crackle_fine_share", "share of crackles with a two-cycle duration below 10 ms"},
    {"envelope_kurtosis", "peakedness of the loudness"},
    {"envelope_centre", "where in the stretch its energy lies"},
    {"envelope_peak_place", "where in the stretch it is loudest"},
    {"envelope_range_db", "range of loudness"},
    {"flux_mean_db", "usual change of the spectrum"},
    {"flux_max_db", "greatest change of the spectrum"},
    {"flux_spread_db", "unevenness of the change of the spectrum"},
    {"track_share", "share of time with a wheeze-like tone by the published gates"},
    {"track_hz", "frequency of the longest such tone"},
    {"record_tone_low", "share of the recording with a tone 12 dB up below 250 Hz"},
    {"record_tone_high", "share of the recording with a tone 12 dB up above 250 Hz"},
    {"record_crackle_rate_per_s", "crackles a second in the whole recording"},
    {"record_transient_share_9", "share of the recording 9 dB over its local background"},
    {"record_centroid_hz", "centre of the recording's spectrum"},
    {"record_level_range_db", "range of loudness in the recording"},
    {"record_kurtosis_above_200hz", "peakedness of the recording above 200 Hz"},
    {"record_track_share", "share of the recording with a wheeze-like tone"},
}};

}  // namespace

const std::array<std::string_view, kNumFeatures>& feature_names() {
  static const auto names = [] {
    std::array<std::string_view, kNumFeatures> out;
    for (std::size_t i = 0; i < kNumFeatures; ++i) out[i] = kNames[i].key;
    return out;
  }();
  return names;
}

std::string_view feature_in_words(std::size_t index) {
  return kNames[index].words;
}

}  // namespace phren::measurement
