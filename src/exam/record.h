// An examination record as JSON text, and back again without loss.
//
// Units:   in the names of the fields; docs/examination.schema.json is the published form.
// Errors:  reading gives kMalformed or kInvalidArgument naming the file, the place in it (a JSON
//          pointer such as /findings/3/confidence, or line and column where the text is not JSON),
//          the value and the allowed range; kUnsupported for another schema version.
// Limits:  a field that the schema does not know is refused, so that nothing is dropped in silence.
#pragma once

#include <string>
#include <string_view>

#include "base/fields.h"
#include "base/result.h"
#include "exam/types.h"

namespace phren::exam {

inline constexpr int kExaminationSchemaVersion = 1;

void describe(Fields& f, VitalSigns& signs);
void describe(Fields& f, SiteRecord& site);
void describe(Fields& f, Finding& finding);
void describe(Fields& f, Examination& exam);

// Keys in the order of the struct, so equal records give equal bytes. Every double comes back
// bit for bit. A level of minus infinity (silence) is written as null.
// REQUIRES: all other numbers are finite.
std::string to_json(const Examination& examination);

Result<Examination> examination_from_json(std::string_view text, std::string_view file_name);

}  // namespace phren::exam
