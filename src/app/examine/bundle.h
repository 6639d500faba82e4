// The files of an examination, in one folder:
//
//   examination.json   the record (docs/examination.schema.json)
//   impression.json    how it was weighed (as `phren weigh --json` prints it)
//   measured.jsonl     one line a site, as `phren measure` prints it
//   report.html        for people; links to audio/
//   audio/SITE.wav     what was heard
//   truth/SITE.txt     what the patient made there: tab-separated labels, for audio editors
//
// Errors: what could not be written, by file. Equal examinations give equal bytes.
#pragma once

#include <filesystem>

#include "app/examine/examine.h"
#include "base/result.h"
#include "reasoning/knowledge.h"

namespace phren::app {

Status write_bundle(const Examined& examined, const reasoning::Knowledge& knowledge,
                    const std::filesystem::path& folder);

}  // namespace phren::app
