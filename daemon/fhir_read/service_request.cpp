#include "clinical/names.h"
#include "fhir/codes.h"
#include "fhir/units.h"
#include "fhir_read/access_site.h"
#include "fhir_read/drug.h"
#include "fhir_read/order_length.h"
#include "fhir_read/order_text.h"
#include "fhir_read/readers.h"
#include "fhir_read/risk.h"
#include "fhir_read/typography.h"

#include <algorithm>

namespace fhir_read {
namespace {

using clinical::Order;
using clinical::OrderKind;

// Drafts, proposals and what is over bind nobody. Anything else stands, an unknown status too.
bool stands(const Resource& r) {
  const auto status = r.body["status"].text(), intent = r.body["intent"].text();
  const bool over = status == "draft" || status == "revoked" || status == "completed" || status == "cancelled" || status == "stopped" || status == "ended";
  return !over && intent != "proposal" && intent != "option";
}

// By our own step (a local code can be mapped to it), else by code.
std::optional<OrderKind> coded_kind(const json::Value& what, const Reading& reading) {
  const auto step = code_in(what, fhir::system_uri::aftercare_step, reading);
  if (step == "remove-sheath") return OrderKind::sheath_removal;
  if (step == "stand-and-walk") return OrderKind::bed_rest;
  const auto* coded = meaning_by_code(codes_of(what, reading), reading.terms.orders);
  return coded ? std::optional(*coded) : std::nullopt;
}

// All that an order says in words: what is ordered, its details (concepts in R4, parameters in R5), instructions and notes.
std::vector<std::string> words_in(const Resource& r, const json::Value& what) {
  std::vector<std::string> texts;
  const auto add = [&](std::string_view written) {
    auto text = plain(written);
    if (!text.empty() && std::ranges::find(texts, text) == texts.end()) texts.push_back(std::move(text));
  };
  for (const auto& text : texts_of(what)) add(text);
  for (const auto* detail : list_of(r.body["orderDetail"])) {
    for (const auto& text : texts_of(*detail)) add(text);
    for (const auto* parameter : list_of((*detail)["parameter"])) add((*parameter)["valueString"].text());
  }
  add(r.body["patientInstruction"].text());
  for (const auto* one : list_of(r.body["patientInstruction"])) add((*one)["instructionMarkdown"].text());
  for (const auto* note : list_of(r.body["note"])) add((*note)["text"].text());
  return texts;
}

// The title, with the words behind it that matter, at most `kShown` bytes of them.
std::string title_with(const std::string& title, std::string_view words) {
  constexpr std::size_t kShown = 160;
  while (words.starts_with(' ')) words.remove_prefix(1);
  auto end = std::min(words.size(), kShown);
  while (end < words.size() && (static_cast<unsigned char>(words[end]) & 0xC0U) == 0x80U) --end;
  const auto shown = std::string(words.substr(0, end)) + (end < words.size() ? "..." : "");
  if (shown.empty() || title.find(shown) != std::string::npos) return title;
  return title.empty() ? shown : title + ": " + shown;
}

std::string procedure_of(const Resource& r, const Reading& reading) {
  for (const auto* list : {"reasonReference", "supportingInfo", "basedOn"})
    if (auto key = first_key(r.body[list], "Procedure", r); !key.empty()) return key;
  for (const auto* list : {"reason", "supportingInfo"})
    for (const auto& one : r.body[list].items())
      if (auto key = first_key(one["reference"], "Procedure", r); !key.empty()) return key;
  return named_procedure(r, reading);
}

void read_bed_rest(const Resource& r, const std::vector<std::string>& texts, Reading& reading, Order& out) {
  const auto& repeat = r.body["occurrenceTiming"]["repeat"];
  out.length = longest({length_of(r.body["quantityQuantity"], r, "quantityQuantity", reading), length_of(repeat["boundsDuration"], r, "occurrenceTiming.repeat.boundsDuration", reading),
                        length_of_repeat(repeat)});
  for (const auto* detail : list_of(r.body["orderDetail"]))
    for (const auto* parameter : list_of((*detail)["parameter"])) out.length = longest({out.length, length_of((*parameter)["valueQuantity"], r, "orderDetail.parameter.valueQuantity", reading)});
  const auto& bounds = repeat["boundsPeriod"];
  const auto times = bounds.is_object() ? period_of(bounds, r, "occurrenceTiming.repeat.boundsPeriod", reading) : times_of(r.body, {"occurrence"}, r, reading);
  if (!times.single) out.until = times.end;
  const bool coded_end = out.length || out.until;
  for (const auto& text : texts) {
    const auto said = longest_in(text);
    if (said && (!out.length || *said > *out.length)) {
      out.length = said;
      out.source.low_confidence = true;
    }
    if (!coded_end && rest_end_unread(text, reading.terms, said.has_value())) {
      out.unclear = true;
      out.title = title_with(out.title, text);
    }
  }
  if (out.unclear) reading.warn(r, "occurrence", "unread-end", "\"" + out.title + "\" says until when in words that could not be read; nobody gets up before it is made clear.");
  else if (!out.length && !out.until) reading.warn(r, "occurrence", "no-length", "\"" + out.title + "\" does not say how long; it is shown and lengthens nothing.");
}

SheathSaying said_of_sheath(const std::vector<std::string>& texts, const Reading& reading, bool of_a_removal) {
  SheathSaying all;
  for (const auto& text : texts) {
    auto said = sheath_saying(text, reading.terms, of_a_removal);
    if (said.act_below && (!all.act_below || *said.act_below < *all.act_below)) all.act_below = said.act_below;
    if (said.does > all.does) all.does = said.does, all.sentence = std::move(said.sentence);
  }
  return all;
}

void read_sheath_order(const Resource& r, const SheathSaying& said, bool coded, Reading& reading, Order& out) {
  const bool not_to = r.body["doNotPerform"].boolean() == true, on_hold = r.body["status"].text() == "on-hold";
  out.kind = coded || said.does != SheathWord::named || not_to ? OrderKind::sheath_removal : OrderKind::sheath_named;
  out.source.low_confidence = !coded;
  if (said.does != SheathWord::none) out.title = title_with(out.title, said.sentence);
  if (out.kind == OrderKind::sheath_named) return;
  out.negated = not_to && said.does != SheathWord::leave;
  out.suspended = on_hold && said.does != SheathWord::leave;
  out.forbids = not_to || on_hold || said.does == SheathWord::leave;
  out.unclear = !out.forbids && said.does == SheathWord::conditional;
  if (said.act_below) out.act_below = clinical::Value{clinical::whole(*said.act_below), clinical::Comparator::none, std::to_string(*said.act_below) + " s"};
  out.not_before = times_of(r.body, {"occurrence"}, r, reading).start;
  if (out.unclear) reading.warn(r, "code", "unread-condition", "\"" + out.title + "\" sets a condition that could not be read; the sheath waits until it is made clear.");
}

}  // namespace

// One order may be about both: "Do not pull the sheath before review. Flat until morning."
void read_service_request(const Resource& r, Reading& reading) {
  if (!stands(r)) return;
  if (r.body["doNotPerform"].boolean() != true) read_dialysis(r, reading);
  const auto& what = concept_in(r.body["code"]);
  const auto kind = coded_kind(what, reading);
  const auto texts = words_in(r, what);
  Order order;
  order.source = r.fact_source();
  order.title = title_of(what);
  order.written = moment_of(r.body["authoredOn"], r, "authoredOn", reading);
  order.procedure = procedure_of(r, reading);
  AccessSite site;
  add_sites_of(r.body, r, reading, site);
  order.side = only_side(site);
  const auto titles_a_removal = [&](const std::string& text) { return sheath_saying(text, reading.terms, false).does >= SheathWord::removal || denies_a_removal(text, reading.terms); };
  const bool of_a_removal = kind == OrderKind::sheath_removal || std::ranges::any_of(texts_of(what), titles_a_removal);
  const auto said = said_of_sheath(texts, reading, of_a_removal);
  if (of_a_removal || said.does != SheathWord::none) {
    auto out = order;
    read_sheath_order(r, said, kind == OrderKind::sheath_removal, reading, out);
    reading.record.orders.push_back(std::move(out));
  }
  const bool rest = kind == OrderKind::bed_rest || std::ranges::any_of(texts, [&](const std::string& text) { return names_bed_rest(text, reading.terms); });
  if (!rest) return;
  if (r.body["doNotPerform"].boolean() == true) return reading.inform(r, "doNotPerform", "not-done", "An order against bed rest shortens nothing.");
  auto out = order;
  out.kind = OrderKind::bed_rest;
  out.source.low_confidence = kind != OrderKind::bed_rest;
  read_bed_rest(r, texts, reading, out);
  reading.record.orders.push_back(std::move(out));
}

void read_drug_order(const Resource& r, Reading& reading) {
  if (!stands(r) || r.body["status"].text() == "on-hold" || r.body["doNotPerform"].boolean() == true) return;
  for (const auto& code : codes_of_all(r.body["category"], reading))
    if (code.key.code == "discharge") return;
  const auto drug = drug_of(r.body, r, reading);
  if (drug.flush || drug.agent == clinical::Agent::other) return;
  Order out;
  out.source = r.fact_source(drug.by_text);
  out.kind = OrderKind::drug;
  out.title = drug.name;
  out.agent = drug.agent;
  out.written = moment_of(r.body["authoredOn"], r, "authoredOn", reading);
  for (const auto* instruction : list_of(r.body["dosageInstruction"])) {
    const auto& timing = (*instruction)["timing"];
    for (const auto& event : timing["event"].items())
      if (const auto at = moment_of(event, r, "dosageInstruction.timing.event", reading)) out.due.push_back(*at);
    if (const auto& bounds = timing["repeat"]["boundsPeriod"]; bounds.is_object()) {
      const auto end = period_of(bounds, r, "dosageInstruction.timing.repeat.boundsPeriod", reading).end;
      if (end && (!out.until || end->latest > out.until->latest)) out.until = end;
    } else {
      out.until.reset();
    }
  }
  std::ranges::sort(out.due);
  reading.record.orders.push_back(std::move(out));
}

}  // namespace fhir_read
