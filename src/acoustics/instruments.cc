#include "acoustics/instruments.h"

#include <algorithm>
#include <map>

#include "base/files.h"
#include "base/toml_fields.h"

namespace phren::acoustics {
namespace {

Result<Head> parse_head(std::string_view word) {
  if (word == "diaphragm") return Head::kDiaphragm;
  if (word == "bell") return Head::kBell;
  if (word == "flat") return Head::kSensor;
  return fail(out_of_range("head", word, "diaphragm, bell or flat"));
}

Result<SectionKind> parse_section(std::string_view word) {
  constexpr std::array<std::string_view, 5> kWords = {"high pass", "low pass", "peak", "low shelf",
                                                      "high shelf"};
  for (std::size_t i = 0; i < kWords.size(); ++i) {
    if (kWords[i] == word) return static_cast<SectionKind>(i + 1);
  }
  return fail(out_of_range("kind", word, "high pass, low pass, peak, low shelf or high shelf"));
}

void read_source(TomlFields& fields, NamedInstrument& to) {
  fields.text("source", to.source, true);
  fields.one_of("status", to.status, {"measured", "verified", "from memory", "engineering"}, true);
}

void read_response(TomlFields& fields, Instrument& to) {
  std::size_t count = 0;
  std::array<FilterSection, kNumSections> read{};
  fields.rows("response", [&](TomlFields& row) {
    FilterSection s;
    row.word("kind", s.kind, parse_section, true);
    row.number("hz", s.hz, 5.0, 20000.0, true);
    row.number("q", s.q, 0.1, 30.0);
    row.number("gain_db", s.gain_db, -60.0, 60.0);
    if (count < kNumSections) {
      read[count++] = s;
    } else {
      row.note(out_of_range("sections of the response", "more than 6", "at most 6"));
    }
  });
  if (count > 0) to.response = read;
}

// Every figure of every table; one that is left out stays as it is in the instrument it is like.
void read_figures(TomlFields& fields, Instrument& to, bool is_all_needed) {
  for (std::size_t first = 0; first < kNumFigures;) {
    std::size_t last = first;
    const std::string_view table = kFigures[first].table;
    while (last < kNumFigures && table == kFigures[last].table) ++last;
    fields.table(
        table,
        [&](TomlFields& inner) {
          std::string source, status;
          inner.text("source", source);
          inner.one_of("status", status, {"measured", "verified", "from memory", "engineering"});
          for (std::size_t i = first; i < last; ++i) {
            const FigureInfo& info = kFigures[i];
            inner.number(info.key, to.figures[i], info.low, info.high, is_all_needed);
          }
        },
        is_all_needed);
    first = last;
  }
}

struct Reader {
  const std::filesystem::path& folder;
  std::map<std::string, NamedInstrument> done{};

  Status read(const std::string& id, int depth) {
    if (done.count(id) != 0) return {};
    const std::filesystem::path file = folder / (id + ".toml");
    const std::string name = file.filename().string();
    const auto text = TRY(read_file(file));
    const auto root = TRY(parse_toml(text, name));
    TomlFields fields(name, root);
    NamedInstrument out;
    std::string like;
    fields.text("like", like);
    if (!like.empty()) {
      if (depth > 3) return fail(out_of_range(name + ": like", like, "a chain of at most three"));
      TRY(read(like, depth + 1));
      out = done.at(like);
    }
    out.id = id;
    fields.text("name", out.name, true);
    fields.word("head", out.instrument.head, parse_head, true);
    out.other_side.clear();
    fields.text("other_side", out.other_side);
    read_source(fields, out);
    read_response(fields, out.instrument);
    read_figures(fields, out.instrument, like.empty());
    TRY(fields.done());
    done.emplace(id, std::move(out));
    return {};
  }
};

}  // namespace

Result<Instruments> Instruments::load(const std::filesystem::path& folder) {
  std::error_code code;
  std::vector<std::string> ids;
  for (const auto& entry : std::filesystem::directory_iterator(folder, code)) {
    if (entry.path().extension() == ".toml") ids.push_back(entry.path().stem().string());
  }
  if (code || ids.empty()) {
    return fail(ErrorCode::kNotFound, folder.string() + ": no .toml files there");
  }
  std::sort(ids.begin(), ids.end());
  Reader reader{folder};
  Instruments out;
  for (const std::string& id : ids) {
    TRY(reader.read(id, 0));
    out.all_.push_back(reader.done.at(id));
  }
  return out;
}

Result<NamedInstrument> Instruments::find(std::string_view id) const {
  std::string known;
  for (const NamedInstrument& one : all_) {
    if (one.id == id) return one;
    known += (known.empty() ? "one of " : ", ") + one.id;
  }
  return fail(out_of_range("instrument", "'" + std::string(id) + "'", known));
}

}  // namespace phren::acoustics
