// Answers in forms and the text of reports: sources of low confidence. They make no fact and open nothing; a drug that they name is asked for.
#include "fhir_read/drug.h"
#include "fhir_read/readers.h"

#include <algorithm>

namespace fhir_read {
namespace {

constexpr std::size_t kShown = 120;  // bytes of a text that are shown

// Cut between characters.
std::string shortened(std::string_view text) {
  if (text.size() <= kShown) return std::string(text);
  auto end = kShown;
  while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) --end;
  return std::string(text.substr(0, end)) + "...";
}

void remark(const Resource& r, std::string_view path, std::string_view searched, std::string_view shown_text, Reading& reading) {
  for (const auto agent : drugs_named(searched, reading)) {
    const bool known = std::ranges::any_of(reading.record.remarks, [&](const clinical::Remark& k) { return k.source == r.fact_source(true) && k.agent == agent; });
    if (known) continue;
    reading.inform(r, path, "named-in-text", "\"" + shortened(shown_text) + "\" names a drug that acts on clotting; no fact is made of it.");
    reading.record.remarks.push_back({r.fact_source(true), agent, shortened(shown_text)});
  }
}

std::string said(const json::Value& answer) {
  for (const auto* form : {"valueString", "valueText"})
    if (const auto text = answer[form].text(); !text.empty()) return std::string(text);
  const auto display = answer["valueCoding"]["display"].text();
  if (!display.empty()) return std::string(display);
  return std::string(answer["valueReference"]["display"].text());
}

constexpr int kDepth = 16;  // groups in groups

// What is denied names nothing; a question counts only where the answer is a plain yes.
void look_at_item(const json::Value& item, const Resource& r, Reading& reading, int depth) {
  if (depth > kDepth) return;
  const auto question = item["text"].text();
  for (const auto* answer : list_of(item["answer"])) {
    const auto words = said(*answer);
    const auto shown_text = std::string(question) + (question.empty() ? "" : ": ") + words;
    if ((*answer)["valueBoolean"].boolean() == true) remark(r, "item", question, std::string(question) + ": yes", reading);
    remark(r, "item", words, shown_text, reading);
    for (const auto* inner : list_of((*answer)["item"])) look_at_item(*inner, r, reading, depth + 1);
  }
  for (const auto* inner : list_of(item["item"])) look_at_item(*inner, r, reading, depth + 1);
}

}  // namespace

void read_questionnaire_response(const Resource& r, Reading& reading) {
  const auto status = r.body["status"].text();
  if (status == "stopped") return;
  for (const auto* item : list_of(r.body["item"])) look_at_item(*item, r, reading, 0);
}

void read_diagnostic_report(const Resource& r, Reading& reading) {
  const auto status = r.body["status"].text();
  if (status == "cancelled" || status == "registered") return;
  remark(r, "conclusion", r.body["conclusion"].text(), r.body["conclusion"].text(), reading);
  for (const auto* code : list_of(r.body["conclusionCode"]))
    for (const auto& text : texts_of(*code)) remark(r, "conclusionCode", text, text, reading);
}

}  // namespace fhir_read
