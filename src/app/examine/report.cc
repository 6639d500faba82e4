#include "app/examine/report.h"

#include <fmt/core.h>

#include <algorithm>

#include "app/examine/markup.h"
#include "app/examine/report_style.h"
#include "exam/names.h"

namespace phren::app {
namespace {

constexpr const char* kCaution =
    "Training aid. Not a medical device; not for diagnosing or treating anyone. Follow local "
    "protocols and medical direction.";

std::string items(const std::vector<std::string>& lines) {
  std::string out = "<ul>";
  for (const std::string& line : lines) out += "<li>" + escape(line) + "</li>";
  return out + "</ul>";
}

std::string head(const ReportModel& model) {
  std::string out = fmt::format(
      "<!doctype html><html lang='en'><head><meta charset='utf-8'>"
      "<meta name='viewport' content='width=device-width, initial-scale=1'><title>{0}</title>"
      "<style>{1}</style></head><body><header><div class='over'>Phren examination report</div>"
      "<h1>{0}</h1><p class='soft'>{2}</p></header><p class='caution'><small>{3}</small></p>",
      escape(model.title), kReportStyle, escape(model.subtitle), kCaution);
  if (!model.story.empty()) out += "<p class='story'>" + escape(model.story) + "</p>";
  if (!model.vital_signs.empty()) {
    out += "<dl class='signs'>";
    for (const Fact& fact : model.vital_signs) {
      out +=
          fmt::format("<div><dt>{}</dt><dd>{}</dd></div>", escape(fact.label), escape(fact.value));
    }
    out += "</dl>";
  }
  return out;
}

std::string threat_list(const std::vector<ThreatRow>& rows) {
  std::string out =
      "<p class='soft'>First, what could kill: look for it, whatever its "
      "probability.</p><table class='threats'><tbody>";
  for (const ThreatRow& row : rows) {
    out += fmt::format(
        "<tr class='threat'><td><h3>{}</h3></td><td>{} <small>({}; {})</small><br>"
        "<small>named by: {}</small></td></tr>",
        escape(row.label), escape(row.why), escape(row.source), escape(row.standing),
        escape(row.grounds));
  }
  return out + "</tbody></table>";
}

std::string ranking_table(const std::vector<ImpressionRow>& rows) {
  std::string out =
      "<p class='soft'>Then what is likely. Each explanation stands alone, for two can be true; "
      "\u25B2 marks those that can kill soon.</p>"
      "<table><thead><tr><th>Explanation</th><th>Probability</th><th></th><th>What moved it</th>"
      "</tr></thead><tbody>";
  for (const ImpressionRow& row : rows) {
    out += fmt::format(
        "<tr class='{}'><td><h3>{}</h3></td><td><span class='bar'><i style='width:{}%'></i></span>"
        "</td><td class='n'>{}<br><small>{} to {} %</small></td><td>{}</td></tr>",
        row.is_threat ? "threat" : "", escape(row.label),
        number(100 * std::clamp(row.probability, 0.0, 1.0), 1), escape(row.shown),
        number(100 * row.low, 1), number(100 * row.high, 1), escape(row.why));
  }
  return out + "</tbody></table>";
}

std::string impression(const ReportModel& model) {
  if (model.ranking.empty() && model.threats.empty()) return "";
  std::string out = "<section><h2>What it could be</h2>";
  if (!model.threats.empty()) out += threat_list(model.threats);
  if (!model.ranking.empty()) out += ranking_table(model.ranking);
  if (!model.next_look.empty()) {
    out += "<p><b>Next best look.</b> " + escape(model.next_look) + "</p>";
  }
  for (const std::string& remark : model.remarks) {
    out += "<p class='soft'>" + escape(remark) + "</p>";
  }
  return out + "</section>";
}

// The findings of one presence in a sentence, as "Lead: a, b, c."
std::string sentence(const std::vector<FindingRow>& rows, exam::Presence presence,
                     const char* lead) {
  std::string out;
  for (const FindingRow& row : rows) {
    if (row.presence != presence) continue;
    out += out.empty() ? std::string("<p><b>") + lead + "</b> " : std::string(", ");
    out += escape(row.label);
    if (presence == exam::Presence::kUnknown && !row.note.empty()) {
      out += " <small>(" + escape(row.note) + ")</small>";
    }
  }
  return out.empty() ? out : out + ".</p>";
}

std::string findings(const ReportModel& model) {
  std::string out =
      "<section><h2>What was found</h2><table><thead><tr><th>Finding</th><th>How</th>"
      "<th>Where</th><th>In words</th><th>Confidence</th></tr></thead><tbody>";
  for (const FindingRow& row : model.findings) {
    if (row.presence != exam::Presence::kPresent) continue;
    out += fmt::format(
        "<tr><td><b>{}</b><span class='meaning'>{}</span></td><td>{}</td><td>{}</td><td>{}</td>"
        "<td class='n'>{}&nbsp;%</td></tr>",
        escape(row.label), escape(row.meaning), escape(row.basis), escape(row.where),
        escape(row.note), number(100 * row.confidence));
  }
  return out + "</tbody></table>" +
         sentence(model.findings, exam::Presence::kAbsent, "Looked for, and not there:") +
         sentence(model.findings, exam::Presence::kUnknown, "Not settled:") + "</section>";
}

std::string place_card(const SiteCard& card) {
  std::string out = fmt::format(
      "<article class='place{}' id='site-{}'><h3>{} <span class='soft'>{}</span></h3>"
      "<small>{}</small>{}",
      card.site.side == exam::Side::kMidline ? " wide" : "", escape(card.site.id),
      escape(card.site.name), escape(card.site.id), escape(card.site.landmark), card.picture_svg);
  if (!card.audio_file.empty()) {
    out += fmt::format("<audio controls preload='none' src='{}' aria-label='sound at {}'></audio>",
                       escape(card.audio_file), escape(card.site.name));
  }
  out += items(card.measured);
  if (!card.truth.empty()) {
    out += "<details><summary>What this patient made here</summary>" + items(card.truth) +
           "</details>";
  }
  return out + "</article>";
}

std::string places(const ReportModel& model) {
  std::string out =
      "<section><h2>What was heard, place by place</h2><p class='soft'>Mirrored places stand side "
      "by side. Darker is louder, on one scale for all pictures. Under each picture the breath: "
      "framed in, filled out. Dashed lines are tonal sounds; ticks above are crackles, long ticks "
      "coarse ones. All marks are from the measurer, which hears only the sound.</p>"
      "<div class='places'>";
  for (const SiteCard& card : model.sites) out += place_card(card);
  return out + "</div></section>";
}

}  // namespace

std::string report_html(const ReportModel& model) {
  std::string out = head(model);
  if (!model.marks.empty()) {
    out += "<section><h2>Where it was heard</h2><figure style='margin:0'>" +
           chest_map_svg(model.marks,
                         "Chest drawn from the right side, front, back and left side "
                         "with a mark at each listening site") +
           "<figcaption>" + escape(model.legend) + "</figcaption></figure></section>";
  }
  out += impression(model) + findings(model) + places(model);
  if (!model.teaching_points.empty()) {
    out += "<section><h2>To take away</h2>" + items(model.teaching_points) + "</section>";
  }
  return out + "<footer><small>" + escape(model.how_made) + "<br>" + kCaution +
         "</small></footer></body></html>\n";
}

}  // namespace phren::app
