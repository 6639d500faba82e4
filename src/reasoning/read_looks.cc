#include <map>

#include "reasoning/tables.h"

namespace phren::reasoning {
namespace {

constexpr double kLongestLook_s = 600.0;

Status read_shown(const CsvTable& table, std::size_t row, const FindingTable& findings,
                  std::map<std::size_t, std::string>& taken, LookInfo& look) {
  for (const auto& id : split(table.text(row, "shows"), ';')) {
    const auto index = TRY(at(table.place(row), findings.find(id)));
    if (findings[index].pattern) {
      return fail(ErrorCode::kInvalidArgument,
                  table.place(row) + ": shows " + id +
                      ", which is worked out from other findings; name those instead");
    }
    const auto [other, is_new] = taken.emplace(index, look.id);
    if (!is_new) {
      return fail(ErrorCode::kInvalidArgument, table.place(row) + ": " + id +
                                                   " is already shown by look " + other->second +
                                                   "; a finding belongs to one look");
    }
    look.findings.push_back(index);
  }
  return {};
}

}  // namespace

Result<std::vector<LookInfo>> read_looks(const CsvTable& table, const FindingTable& findings) {
  if (auto ok = table.require({"look_id", "how", "seconds", "shows", "source", "status"}); !ok) {
    return fail(ok.error());
  }
  std::vector<LookInfo> looks;
  std::map<std::size_t, std::string> taken;
  for (std::size_t i = 0; i < table.num_rows(); ++i) {
    LookInfo look;
    look.id = table.text(i, "look_id");
    look.how = table.text(i, "how");
    look.source = table.text(i, "source");
    look.status = table.text(i, "status");
    for (const auto column : {"look_id", "how", "seconds", "shows", "source", "status"}) {
      if (table.text(i, column).empty()) {
        return fail(ErrorCode::kMalformed, table.place(i) + ": " + column + " may not be blank");
      }
    }
    if (const auto standing = parse_standing(look.status); !standing) {
      return fail(at(table.place(i), standing.error()));
    }
    const auto seconds = TRY(table.number(i, "seconds", 1.0, kLongestLook_s));
    look.seconds = *seconds;
    TRY(read_shown(table, i, findings, taken, look));
    looks.push_back(std::move(look));
  }
  return looks;
}

}  // namespace phren::reasoning
