// Reading an examination record. The JSON library tells where text is broken by an exception, so the browser
// module, which has none, leaves this file out.
#include <algorithm>

#include "base/json_fields.h"
#include "exam/record.h"

namespace phren::exam {
namespace {

// Line and column of a byte offset, both from 1.
std::string line_and_column(std::string_view text, std::size_t byte) {
  const std::string_view before = text.substr(0, std::min(byte > 0 ? byte - 1 : 0, text.size()));
  const auto line = 1 + std::count(before.begin(), before.end(), '\n');
  const std::size_t start = before.rfind('\n');
  const std::size_t column = before.size() - (start == before.npos ? 0 : start + 1) + 1;
  return std::to_string(line) + ":" + std::to_string(column);
}

}  // namespace

Result<Examination> examination_from_json(std::string_view text, std::string_view file_name) {
  const std::string name(file_name);
  if (is_deeper_json(text)) {
    return fail(ErrorCode::kMalformed, name + ": is nested more than " +
                                           std::to_string(kDeepestJson) +
                                           " deep; no examination record is");
  }
  nlohmann::json root;
  try {
    root = nlohmann::json::parse(text);
  } catch (const nlohmann::json::exception& error) {
    const auto* parse = dynamic_cast<const nlohmann::json::parse_error*>(&error);
    const std::string where = parse == nullptr ? "" : ":" + line_and_column(text, parse->byte);
    return fail(ErrorCode::kMalformed, name + where +
                                           ": is not JSON text; an examination record in "
                                           "JSON is needed (docs/examination.schema.json)");
  }
  return read_record<Examination>(root, name);
}

}  // namespace phren::exam
