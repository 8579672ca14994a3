#include "clinical/names.h"
#include "fhir/codes.h"
#include "fhir/units.h"
#include "fhir_read/access_site.h"
#include "fhir_read/drug.h"
#include "fhir_read/order_length.h"
#include "fhir_read/readers.h"
#include "fhir_read/risk.h"

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

// By our own step (a local code can be mapped to it), by code, else by name.
std::optional<OrderKind> kind_of(const json::Value& what, const Reading& reading, bool& by_name) {
  const auto step = code_in(what, fhir::system_uri::aftercare_step, reading);
  if (step == "remove-sheath") return OrderKind::sheath_removal;
  if (step == "stand-and-walk") return OrderKind::bed_rest;
  if (const auto* coded = meaning_by_code(codes_of(what, reading), reading.terms.orders)) return *coded;
  by_name = true;
  for (const auto& text : texts_of(what))
    if (const auto* named = meaning_by_name(text, reading.terms.orders)) return *named;
  return std::nullopt;
}

std::string procedure_of(const Resource& r, const Reading& reading) {
  for (const auto* list : {"reasonReference", "supportingInfo", "basedOn"})
    if (auto key = first_key(r.body[list], "Procedure", r); !key.empty()) return key;
  for (const auto* list : {"reason", "supportingInfo"})
    for (const auto& one : r.body[list].items())
      if (auto key = first_key(one["reference"], "Procedure", r); !key.empty()) return key;
  return named_procedure(r, reading);
}

void read_bed_rest(const Resource& r, const json::Value& what, Reading& reading, Order& out) {
  const auto& repeat = r.body["occurrenceTiming"]["repeat"];
  out.length = longest({length_of(r.body["quantityQuantity"], r, "quantityQuantity", reading), length_of(repeat["boundsDuration"], r, "occurrenceTiming.repeat.boundsDuration", reading),
                        length_of_repeat(repeat)});
  std::vector<std::string> texts = texts_of(what);
  for (const auto* detail : list_of(r.body["orderDetail"])) {  // concepts in R4, parameters in R5
    for (auto& text : texts_of(*detail)) texts.push_back(std::move(text));
    for (const auto* parameter : list_of((*detail)["parameter"])) {
      out.length = longest({out.length, length_of((*parameter)["valueQuantity"], r, "orderDetail.parameter.valueQuantity", reading)});
      texts.emplace_back((*parameter)["valueString"].text());
    }
  }
  texts.emplace_back(r.body["patientInstruction"].text());
  for (const auto* note : list_of(r.body["note"])) texts.emplace_back((*note)["text"].text());
  for (const auto& text : texts) {
    const auto said = longest_in(text);
    if (said && (!out.length || *said > *out.length)) {
      out.length = said;
      out.source.low_confidence = true;
    }
  }
  const auto& bounds = repeat["boundsPeriod"];
  const auto times = bounds.is_object() ? period_of(bounds, r, "occurrenceTiming.repeat.boundsPeriod", reading) : times_of(r.body, {"occurrence"}, r, reading);
  if (!times.single) out.until = times.end;
  if (!out.length && !out.until) reading.warn(r, "occurrence", "no-length", "\"" + out.title + "\" does not say how long; it is shown and lengthens nothing.");
}

}  // namespace

void read_service_request(const Resource& r, Reading& reading) {
  if (stands(r) && r.body["doNotPerform"].boolean() != true) read_dialysis(r, reading);
  const auto& what = concept_in(r.body["code"]);
  Order out;
  bool by_name = false;
  const auto kind = kind_of(what, reading, by_name);
  if (!kind || !stands(r)) return;
  out.source = r.fact_source(by_name);
  out.kind = *kind;
  out.title = title_of(what);
  out.written = moment_of(r.body["authoredOn"], r, "authoredOn", reading);
  out.procedure = procedure_of(r, reading);
  AccessSite site;
  add_sites_of(r.body, r, reading, site);
  out.side = only_side(site);
  const bool not_to = r.body["doNotPerform"].boolean() == true;
  if (*kind == OrderKind::bed_rest) {
    if (not_to) return reading.inform(r, "doNotPerform", "not-done", "An order against bed rest shortens nothing.");
    read_bed_rest(r, what, reading, out);
  } else {
    out.forbids = not_to || r.body["status"].text() == "on-hold";
    const auto times = times_of(r.body, {"occurrence"}, r, reading);
    out.not_before = times.start;
  }
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
