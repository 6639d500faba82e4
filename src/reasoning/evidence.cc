#include "reasoning/evidence.h"

#include <array>
#include <cstdlib>
#include <utility>

namespace phren::reasoning {
namespace {

constexpr double kMostRatio = 1000.0;

struct Field {
  std::string_view column;
  std::optional<double>* target;
  double high;
};

void read_numbers(const CsvTable& table, std::size_t i, EvidenceRow& row,
                  std::vector<Complaint>& complaints) {
  const std::array<Field, 8> fields{{{"sens", &row.sensitivity, 1.0},
                                     {"spec", &row.specificity, 1.0},
                                     {"lr_pos", &row.positive.value, kMostRatio},
                                     {"lr_pos_lo", &row.positive.lo, kMostRatio},
                                     {"lr_pos_hi", &row.positive.hi, kMostRatio},
                                     {"lr_neg", &row.negative.value, kMostRatio},
                                     {"lr_neg_lo", &row.negative.lo, kMostRatio},
                                     {"lr_neg_hi", &row.negative.hi, kMostRatio}}};
  for (const Field& field : fields) {
    auto number = table.number(i, field.column, 0.0, field.high);
    if (number) {
      *field.target = *number;
    } else {
      // The place is told once, as `where`.
      complaints.push_back(
          {true, table.place(i), number.error().message.substr(table.place(i).size() + 2)});
    }
  }
}

// A ratio that was not printed but follows from printed sensitivity and specificity.
void derive_ratios(EvidenceRow& row) {
  if (!row.sensitivity || !row.specificity) return;
  const double s = *row.sensitivity, c = *row.specificity;
  if (!row.positive.value && !row.positive.lo && c < 1.0) {
    row.positive = {s / (1.0 - c), {}, {}, true};
  }
  if (!row.negative.value && !row.negative.lo && c > 0.0) {
    row.negative = {(1.0 - s) / c, {}, {}, true};
  }
}

Result<Use> parse_use(std::string_view text) {
  for (const auto& [word, use] : {std::pair{std::string_view("both"), Use::kBoth},
                                  std::pair{std::string_view("present"), Use::kPresent},
                                  std::pair{std::string_view("absent"), Use::kAbsent},
                                  std::pair{std::string_view("beside"), Use::kBeside}}) {
    if (word == text) return use;
  }
  return fail(
      out_of_range("use", "'" + std::string(text) + "'", "both, present, absent or beside"));
}

void read_words(const CsvTable& table, std::size_t i, EvidenceRow& row,
                std::vector<Complaint>& complaints) {
  const std::string where = table.place(i);
  const auto complain = [&](const Error& error) {
    complaints.push_back({true, where, error.message});
  };
  row.id = table.text(i, "row");
  row.place = where;
  row.condition_ids = split(table.text(i, "condition_id"), ';');
  row.finding_id = table.text(i, "finding_id");
  row.requires_finding = table.text(i, "requires");
  row.settings = split(table.text(i, "settings"), ';');
  row.condition_words = table.text(i, "condition");
  row.finding_words = table.text(i, "finding");
  row.population = table.text(i, "population");
  row.source = table.text(i, "source");
  row.doi = table.text(i, "doi");
  row.status = table.text(i, "status");
  if (const auto use = parse_use(table.text(i, "use"))) {
    row.use = *use;
  } else {
    complain(use.error());
  }
  if (const auto standing = parse_standing(row.status)) {
    row.standing = *standing;
  } else {
    complain(standing.error());
  }
  if (const std::string& cut = table.text(i, "cut"); !cut.empty()) {
    if (auto parsed = parse_cut(cut)) {
      row.cut = std::move(*parsed);
    } else {
      complain(parsed.error());
    }
  }
  for (const auto& [column, target] : {std::pair{"age_from_years", &row.age_from_years},
                                       std::pair{"age_to_years", &row.age_to_years}}) {
    const auto number = table.number(i, column, 0.0, 130.0);
    if (!number) complain({ErrorCode::kInvalidArgument, number.error().message});
    if (number && *number) *target = **number;
  }
}

}  // namespace

std::string_view to_string(Standing standing) {
  switch (standing) {
    case Standing::kVerified:
      return "verified";
    case Standing::kPartVerified:
      return "partly verified";
    case Standing::kDerived:
      return "derived";
    case Standing::kMemory:
      return "from memory";
    case Standing::kEngineering:
      return "teaching judgement";
    case Standing::kNoData:
      return "no data";
  }
  return "no data";
}

Result<Standing> parse_standing(std::string_view status_text) {
  constexpr std::array<std::pair<std::string_view, Standing>, 6> kWords{
      {{"VERIFIED+DERIVED", Standing::kDerived},
       {"VERIFIED", Standing::kVerified},
       {"PART-VERIFIED", Standing::kPartVerified},
       {"MEMORY", Standing::kMemory},
       {"ENGINEERING", Standing::kEngineering},
       {"NO DATA FOUND", Standing::kNoData}}};
  for (const auto& [word, standing] : kWords) {
    if (status_text.substr(0, word.size()) == word) return standing;
  }
  return fail(out_of_range("status", "'" + std::string(status_text) + "'",
                           "one that begins with VERIFIED, PART-VERIFIED, VERIFIED+DERIVED, "
                           "MEMORY, ENGINEERING or NO DATA FOUND"));
}

Result<Cut> parse_cut(std::string_view text) {
  const auto sign = text.find_first_of("<>");
  const auto wrong = [&] {
    return fail(out_of_range("cut", "'" + std::string(text) + "'",
                             "a vital sign, one of < <= > >=, and a number"));
  };
  if (sign == std::string_view::npos) return wrong();
  Cut cut;
  cut.vital = text.substr(0, sign);
  const bool equal = text.size() > sign + 1 && text[sign + 1] == '=';
  const std::string number(text.substr(sign + (equal ? 2 : 1)));
  char* end = nullptr;
  cut.limit = std::strtod(number.c_str(), &end);
  if (!(is_vital(cut.vital) || cut.vital == kAgeWord) || number.empty() || *end != '\0')
    return wrong();
  if (text[sign] == '<') {
    cut.comparison = equal ? Comparison::kAtMost : Comparison::kBelow;
  } else {
    cut.comparison = equal ? Comparison::kAtLeast : Comparison::kAbove;
  }
  return cut;
}

std::vector<EvidenceRow> read_evidence(const CsvTable& table, std::vector<Complaint>& complaints) {
  std::vector<EvidenceRow> rows;
  for (std::size_t i = 0; i < table.num_rows(); ++i) {
    EvidenceRow row;
    read_words(table, i, row, complaints);
    read_numbers(table, i, row, complaints);
    derive_ratios(row);
    rows.push_back(std::move(row));
  }
  return rows;
}

bool speaks_of(const EvidenceRow& row, exam::Presence presence, double age_years) {
  if (age_years < row.age_from_years || age_years >= row.age_to_years) return false;
  const bool present = presence == exam::Presence::kPresent;
  if (row.use == Use::kBeside || (row.use == Use::kPresent && !present) ||
      (row.use == Use::kAbsent && present)) {
    return false;
  }
  return (present ? row.positive : row.negative).value.has_value();
}

}  // namespace phren::reasoning
