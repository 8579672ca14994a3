#include "fhir_read/note_text.h"

#include <algorithm>
#include <set>

namespace fhir_read {
namespace {

// Words left when the phrases that say nothing bad, and numbers, are taken out.
std::vector<std::string> left_of(const std::vector<std::string>& words, const Terminology& terms) {
  std::vector<std::string> left;
  for (std::size_t at = 0; at < words.size();) {
    const auto calm = std::ranges::find_if(terms.calm_notes, [&](const auto& phrase) {
      return !phrase.empty() && phrase.size() <= words.size() - at && std::equal(phrase.begin(), phrase.end(), words.begin() + static_cast<std::ptrdiff_t>(at));
    });
    const bool number = std::ranges::all_of(words[at], [](char c) { return c >= '0' && c <= '9'; });
    if (calm == terms.calm_notes.end() && !number) left.push_back(words[at]);
    at += calm == terms.calm_notes.end() ? 1 : calm->size();
  }
  return left;
}

bool success_said(std::string_view text) {
  static const std::set<std::string> words{"successful", "success", "achieved", "complete", "erfolgreich", "erfolg", "réussi", "réussie", "succès", "exitoso", "exitosa", "éxito", "logrado", "lograda", "udany", "udana", "sukces", "ناجح", "ناجحة", "نجاح",
                                           "haemostasis", "hemostasis", "hämostase", "hémostase", "hemostasia", "hemostaza", "dry", "trocken"};
  const auto said = words_of(text);
  return !said.empty() && std::ranges::all_of(said, [&](const std::string& word) { return words.contains(word); });
}

}  // namespace

NoteSays note_says(std::string_view text, const Terminology& terms) {
  const auto left = left_of(words_of(text), terms);
  const auto is_trouble = [&](const std::string& word) {
    return terms.denying_notes.contains(word) || std::ranges::any_of(terms.trouble_notes, [&](const std::string& start) { return word.starts_with(start); });
  };
  if (left.empty()) return NoteSays::nothing_bad;
  return std::ranges::any_of(left, is_trouble) ? NoteSays::trouble : NoteSays::not_understood;
}

std::string notes_of(const json::Value& resource) {
  std::string all;
  for (const auto* note : list_of(resource["note"]))
    if (const auto text = (*note)["text"].text(); !text.empty()) all += (all.empty() ? "" : "; ") + std::string(text);
  return all;
}

std::string failed_outcome(const json::Value& resource) {
  for (const auto* outcome : list_of(resource["outcome"])) {
    const auto& said = concept_in(*outcome);
    const auto texts = texts_of(said);
    const auto codings = said["coding"].items();
    const bool coded = !codings.empty() && std::ranges::all_of(codings, [](const json::Value& c) { return c["code"].text() == "385669000"; });
    const bool worded = std::ranges::all_of(texts, success_said);
    if ((coded && worded) || (codings.empty() && !texts.empty() && worded)) continue;
    if (auto title = title_of(said); !title.empty()) return title;
  }
  return {};
}

void add_note(clinical::SiteCheck& check, const std::string& note, bool only_trouble, const Reading& reading) {
  const auto says = note_says(note, reading.terms);
  if (says == NoteSays::trouble || (says == NoteSays::not_understood && !only_trouble)) check.unread.push_back({"note", note});
}

}  // namespace fhir_read
