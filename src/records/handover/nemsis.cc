#include "records/handover/nemsis.h"

#include <array>
#include <optional>
#include <string_view>

namespace phren::records {
namespace {

struct Code {
  std::string_view finding, code, label, loss;
};
constexpr std::array<Code, 12> kCodes{
    {{"absent_breath_sounds", "3523001", "Breath Sounds-Absent", ""},
     {"silent_chest", "3523001", "Breath Sounds-Absent",
      "that the whole chest is silent with effort"},
     {"diminished_breath_sounds", "3523003", "Breath Sounds-Decreased", ""},
     {"diminished_one_sided", "3523003", "Breath Sounds-Decreased", ""},
     {"normal_breath_sounds", "3523007", "Breath Sounds-Normal", ""},
     {"accessory_muscle_use", "3523011", "Increased Respiratory Effort", "which muscles are used"},
     {"fine_crackles", "3523021", "Rales", "that the crackles are fine"},
     {"coarse_crackles", "3523021", "Rales", "that the crackles are coarse"},
     {"crackles", "3523021", "Rales", ""},
     {"rhonchi", "3523023", "Rhonchi", ""},
     {"stridor", "3523027", "Stridor", ""},
     {"wheeze", "3523025", "Rhonchi/Wheezing", "whether it is wheeze or rhonchus"}}};
// Heard findings the standard has no word for.
constexpr std::array<std::string_view, 5> kUnsaid{"pleural_friction_rub", "bronchial_breathing",
                                                  "squawk", "grunting", "gurgling"};

std::optional<Code> code_of(const exam::Finding& finding) {
  if (finding.id == "wheeze" && finding.phase == exam::Phase::kExpiration) {
    return Code{"wheeze", "3523029", "Wheezing-Expiratory", ""};
  }
  if (finding.id == "wheeze" && finding.phase == exam::Phase::kInspiration) {
    return Code{"wheeze", "3523031", "Wheezing-Inspiratory", ""};
  }
  for (const Code& code : kCodes) {
    if (code.finding == finding.id) return code;
  }
  return std::nullopt;
}

}  // namespace

NemsisExport to_nemsis(const exam::Examination& examination) {
  NemsisExport out;
  for (const exam::Finding& finding : examination.findings) {
    if (finding.presence == exam::Presence::kUnknown) continue;
    const auto code = code_of(finding);
    if (!code) {
      for (const std::string_view unsaid : kUnsaid) {
        if (finding.id == unsaid) {
          out.losses.push_back(finding.id + " has no NEMSIS lung code and is left out.");
        }
      }
      continue;
    }
    NemsisLung row;
    const bool right = finding.side == exam::Side::kRight, left = finding.side == exam::Side::kLeft;
    row.location_code = right ? "3522003" : left ? "3522001" : "3522005";
    row.location_label = right ? "Right" : left ? "Left" : "Bilateral";
    row.finding_code = code->code;
    row.finding_label = code->label;
    row.pertinent_negative = finding.presence == exam::Presence::kAbsent;
    out.findings.push_back(row);
    if (!code->loss.empty()) {
      out.losses.push_back(finding.id + " became " + row.finding_label +
                           "; lost: " + std::string(code->loss) + ".");
    }
    if (!finding.site_ids.empty()) {
      out.losses.push_back(finding.id + ": the sites are lost, only the side is kept.");
    }
  }
  return out;
}

}  // namespace phren::records
