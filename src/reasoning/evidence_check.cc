#include "reasoning/evidence_check.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <set>

#include "base/stable_sort.h"

namespace phren::reasoning {
namespace {

// Printed figures are rounded, and pooled ones are pooled one by one, so a printed ratio may stray
// from sensitivity and specificity: beyond rounding it is worth knowing, beyond double an error.
constexpr double kRounding = 0.005;
constexpr double kWorthKnowing = 1.15;
constexpr double kWrong = 2.0;

std::string figure(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.3g", value);
  return text;
}

class Checker {
 public:
  Checker(const FindingTable& findings, const std::vector<ConditionInfo>& conditions)
      : findings_(findings), conditions_(conditions) {}

  void check(const EvidenceRow& row) {
    row_ = &row;
    if (row.source.empty()) complain(true, "a row needs a source");
    check_ids();
    check_interval("lr_pos", row.positive);
    check_interval("lr_neg", row.negative);
    check_consistency();
    check_use();
    if (!(row.age_from_years < row.age_to_years)) {
      complain(true, "age_to_years is " + figure(row.age_to_years) + "; it must be above " +
                         figure(row.age_from_years));
    }
    const std::string key =
        row.condition_words + "|" + row.finding_words + "|" + row.population + "|" + row.source;
    if (const auto [old, is_new] = seen_.emplace(key, row.place); !is_new) {
      complain(true, "the same condition, finding, population and source as " + old->second);
    }
    if (!ids_.insert(row.id).second) complain(true, "row id " + row.id + " is used twice");
  }

  std::vector<Complaint> take() {
    phren::stable_sort(complaints_, [](const Complaint& a, const Complaint& b) {
      return a.is_error > b.is_error;
    });
    return std::move(complaints_);
  }

 private:
  void complain(bool is_error, const std::string& message) {
    complaints_.push_back({is_error, row_->place + ": " + row_->id, message});
  }

  void check_ids() {
    for (const auto& id : row_->condition_ids) {
      const bool known = std::any_of(conditions_.begin(), conditions_.end(),
                                     [&](const ConditionInfo& c) { return c.id == id; });
      if (!known) complain(true, "condition_id '" + id + "' is not in conditions.csv");
    }
    for (const auto* id : {&row_->finding_id, &row_->requires_finding}) {
      if (!id->empty() && !findings_.index_of(*id))
        complain(true, findings_.find(*id).error().message);
    }
  }

  void check_interval(const std::string& name, const Ratio& r) {
    if (r.lo && r.hi && *r.lo > *r.hi) {
      complain(true, name + "_lo is " + figure(*r.lo) + "; it must be at most " + name + "_hi " +
                         figure(*r.hi));
    }
    if (r.value && ((r.lo && *r.value < *r.lo) || (r.hi && *r.value > *r.hi))) {
      complain(true, name + " is " + figure(*r.value) + "; it must lie in its own interval");
    }
  }

  void compare(const std::string& name, double printed, double low, double high) {
    const double off = printed < low ? low / std::max(printed, 1e-9) : printed / high;
    if (off <= kWorthKnowing) return;
    complain(off > kWrong, name + " is " + figure(printed) + "; sens and spec give " + figure(low) +
                               " to " + figure(high));
  }

  void check_consistency() {
    if (!row_->sensitivity || !row_->specificity) return;
    const double s = *row_->sensitivity, c = *row_->specificity;
    const auto lower = [](double p) { return std::max(0.0, p - kRounding); };
    const auto upper = [](double p) { return std::min(1.0, p + kRounding); };
    if (row_->positive.value && !row_->positive.derived) {
      compare("lr_pos", *row_->positive.value, lower(s) / upper(1 - c),
              upper(s) / std::max(lower(1 - c), 1e-4));
    }
    if (row_->negative.value && !row_->negative.derived) {
      compare("lr_neg", *row_->negative.value, lower(1 - s) / upper(c),
              upper(1 - s) / std::max(lower(c), 1e-4));
    }
  }

  void check_use() {
    if (row_->use == Use::kBeside) return;
    if (row_->condition_ids.empty() || row_->finding_id.empty()) {
      complain(true, "a weighed row needs condition_id and finding_id");
      return;
    }
    if (row_->use != Use::kAbsent) claim(row_->positive, "present");
    if (row_->use != Use::kPresent && row_->negative.value) claim(row_->negative, "absent");
    if (row_->use == Use::kAbsent && !row_->negative.value) {
      complain(true, "weighed for the finding's absence, but lr_neg is blank");
    }
  }

  void claim(const Ratio& ratio, const std::string& state) {
    if (!ratio.value) {
      complain(true, "weighed for a finding that is " + state + ", but the ratio is blank");
    }
    for (const auto& id : row_->condition_ids) {
      auto& rows = claimed_[id + "|" + row_->finding_id + "|" + state];
      for (const EvidenceRow* other : rows) {
        if (row_->age_from_years < other->age_to_years &&
            other->age_from_years < row_->age_to_years &&
            row_->requires_finding == other->requires_finding &&
            row_->settings == other->settings) {
          complain(true, "weighed for " + id + ", " + row_->finding_id + " " + state + ", as is " +
                             other->id + "; one of them must stand beside");
        }
      }
      rows.push_back(row_);
    }
  }

  const FindingTable& findings_;
  const std::vector<ConditionInfo>& conditions_;
  const EvidenceRow* row_ = nullptr;
  std::vector<Complaint> complaints_;
  std::map<std::string, std::string> seen_;
  std::set<std::string> ids_;
  std::map<std::string, std::vector<const EvidenceRow*>> claimed_;
};

}  // namespace

std::vector<Complaint> check_rows(const std::vector<EvidenceRow>& rows,
                                  const FindingTable& findings,
                                  const std::vector<ConditionInfo>& conditions) {
  Checker checker(findings, conditions);
  for (const EvidenceRow& row : rows) checker.check(row);
  return checker.take();
}

std::vector<Complaint> check_evidence(const std::filesystem::path& published_csv,
                                      const FindingTable& findings,
                                      const std::vector<ConditionInfo>& conditions) {
  const auto table = CsvTable::load(published_csv);
  if (!table) {
    const std::string& text = table.error().message;  // "published.csv:30: has 24 fields; ..."
    const auto end = text.find(": ");
    return {{true, text.substr(0, end), text.substr(end + 2)}};
  }
  std::vector<Complaint> complaints;
  const auto rows = read_evidence(*table, complaints);
  for (Complaint& c : check_rows(rows, findings, conditions)) complaints.push_back(std::move(c));
  return complaints;
}

std::vector<Coverage> coverage(const Knowledge& knowledge) {
  std::vector<Coverage> out;
  for (std::size_t c = 0; c < knowledge.conditions.size(); ++c) {
    Coverage line{knowledge.conditions[c].id, knowledge.conditions[c].label};
    for (const EvidenceRow& row : knowledge.published) {
      const auto& ids = row.condition_ids;
      if (std::find(ids.begin(), ids.end(), line.condition_id) == ids.end()) continue;
      ++line.num_rows;
      if (row.use == Use::kBeside) continue;
      ++line.num_weighed;
      line.num_from_memory += row.standing == Standing::kMemory ? 1 : 0;
    }
    for (const auto& rows : knowledge.weighed[c]) line.num_findings += rows.empty() ? 0 : 1;
    out.push_back(std::move(line));
  }
  return out;
}

}  // namespace phren::reasoning
