#include "fhir_read/drug.h"

#include "fhir/codes.h"
#include "fhir_read/readers.h"
#include "fhir_read/unmapped.h"

#include <algorithm>
#include <array>
#include <set>

namespace fhir_read {
namespace {

using clinical::Agent;

constexpr std::array kRecognised{fhir::system_uri::rxnorm, fhir::system_uri::atc, fhir::system_uri::snomed, fhir::system_uri::ndc};

bool recognised(const std::string& system) { return std::ranges::find(kRecognised, system) != kRecognised.end(); }

std::optional<DrugMeaning> meaning_of(const Code& code, const Terminology& terms) {
  if (const auto* known = terms.drugs.find(code.key)) return *known;
  if (code.key.system != fhir::system_uri::atc) return std::nullopt;
  for (const auto& group : terms.atc_groups) {
    if (code.key.code.starts_with(group.prefix)) return DrugMeaning{group.agent, false};
  }
  return std::nullopt;
}

// Names in a text: the longest phrase of each agent; an excluded name makes the text another drug.
struct Named {
  std::set<Agent> agents;
  bool flush = false;
  bool excluded = false;
};

Named named_in(std::string_view text, const Terminology& terms) {
  Named named;
  const auto words = words_of(text);
  for (const auto& name : terms.drugs.names) {
    const auto match = name.phrase.match(words);
    if (match == Phrase::Match::no) continue;
    named.excluded = named.excluded || match == Phrase::Match::excluded;
    if (match == Phrase::Match::excluded) continue;
    named.agents.insert(name.meaning.agent);
    named.flush = named.flush || name.meaning.flush;
  }
  // "Low molecular weight heparin", in any order and language, holds the word heparin and is none that an activated clotting time measures.
  if (named.agents.contains(Agent::other_antithrombotic)) named.agents.erase(Agent::heparin);
  return named;
}

// The whole text is a known name, perhaps with a strength and a form behind it.
bool only_other_drug(std::string_view text, const Reading& reading) {
  static const std::set<std::string> filler{"mg",  "g",     "ml",      "l",        "mcg",  "ug",      "mmol", "tablet", "tablets", "tab", "capsule", "caps",
                                            "oral", "injection", "solution", "infusion", "iv",  "isotonic", "in",   "bolus",  "po",      "hydrochloride",
                                            "sulfate", "sodium", "citrate", "tartrate", "succinate", "acetate", "besilate", "calcium", "bag", "ampoule", "vial", "syringe"};
  const auto words = words_of(text);
  const auto is_filler = [&](const std::string& w) { return filler.contains(w) || (w.front() >= '0' && w.front() <= '9'); };
  for (const auto* list : {&reading.terms.other_drugs, &reading.site.other_drugs}) {
    for (const auto& name : *list) {
      if (words.size() < name.size() || !std::equal(name.begin(), name.end(), words.begin())) continue;
      if (std::all_of(words.begin() + static_cast<std::ptrdiff_t>(name.size()), words.end(), is_filler)) return true;
    }
  }
  return false;
}

// Everything that the concepts of one drug (its code, its ingredients) say.
struct Sayings {
  std::set<DrugMeaning> coded;
  std::set<Agent> named;
  bool named_flush = false, excluded = false;
  bool displayed_code = false;   // a code of a known system with words beside it
  bool known_other = false;
  bool any = false;
  std::vector<const json::Value*> concepts;  // of the resources themselves; what is made of a display is not among them
  bool unread_part = false;      // an ingredient that is not here and has no name, or a Medication from which something was taken out
};

void take_concept(Sayings& sayings, const json::Value& concept_element, const Reading& reading) {
  const auto texts = texts_of(concept_element);
  for (const auto& code : codes_of(concept_element, reading)) {
    sayings.any = true;
    if (const auto meaning = meaning_of(code, reading.terms)) sayings.coded.insert(*meaning);
    sayings.displayed_code = sayings.displayed_code || (recognised(code.key.system) && !texts.empty());
  }
  for (const auto& text : texts) {
    sayings.any = true;
    const auto named = named_in(text, reading.terms);
    sayings.named.insert(named.agents.begin(), named.agents.end());
    sayings.named_flush = sayings.named_flush || named.flush;
    sayings.excluded = sayings.excluded || named.excluded;
    sayings.known_other = sayings.known_other || only_other_drug(text, reading);
  }
}

std::set<Agent> antithrombotics(const Sayings& sayings, bool coded) {
  std::set<Agent> agents;
  for (const auto& meaning : sayings.coded) {
    if (coded && meaning.agent != Agent::other) agents.insert(meaning.agent);
  }
  for (const auto agent : sayings.named) {
    if (!coded && agent != Agent::other) agents.insert(agent);
  }
  return agents;
}

bool all_flush(const Sayings& sayings) { return std::ranges::all_of(sayings.coded, &DrugMeaning::flush); }

void unidentified(Drug& drug, const Resource& r, Reading& reading, std::string code, const std::string& why) {
  drug.agent = Agent::unidentified;
  reading.warn(r, "medication", std::move(code), "\"" + drug.name + "\": " + why);
}

void decide_coded(Drug& drug, const Sayings& sayings, const Resource& r, Reading& reading) {
  const auto coded = antithrombotics(sayings, true);
  const auto named = antithrombotics(sayings, false);
  if (coded.size() > 1) return unidentified(drug, r, reading, "codes-disagree", "the codes mean different drugs.");
  const bool other_name = std::ranges::any_of(named, [&](Agent a) { return !coded.contains(a); });
  if (other_name) return unidentified(drug, r, reading, "display-disagrees", "the code and the words beside it mean different drugs.");
  if (coded.empty()) {
    drug.agent = Agent::other;
    return;
  }
  drug.agent = *coded.begin();
  drug.flush = drug.agent == Agent::heparin && (all_flush(sayings) || sayings.named_flush);
}

void decide_named(Drug& drug, const Sayings& sayings, const Resource& r, Reading& reading) {
  const auto named = antithrombotics(sayings, false);
  drug.by_text = !sayings.displayed_code;
  const auto& places = reading.site.places_of("drug");
  const bool text_counts = std::ranges::find(places, "text") != places.end();
  if (named.size() > 1) return unidentified(drug, r, reading, "names-disagree", "the words name different drugs.");
  if (named.size() == 1) {
    if (drug.by_text && !text_counts) return unidentified(drug, r, reading, "text-only", "text alone does not count at this site.");
    drug.agent = *named.begin();
    drug.flush = drug.agent == Agent::heparin && sayings.named_flush;
    reading.inform(r, "medication", "drug-by-name", "\"" + drug.name + "\" was recognised by its name, not by a code.");
    return;
  }
  if (sayings.excluded || sayings.displayed_code || sayings.known_other) {
    drug.agent = Agent::other;
    return;
  }
  tell_unmapped_drug(sayings.concepts, r, reading);
  unidentified(drug, r, reading, "drug-unidentified", sayings.any ? "it is on no list of drugs." : "it names no drug.");
}

constexpr int kIngredientDepth = 4;  // a Medication made of Medications

// The concepts of a Medication (or Substance): its code and its ingredients. `r` is where its references are resolved from.
void take_medication(Sayings& sayings, const json::Value& medication, const Resource& r, Reading& reading, int depth = 0) {
  take_concept(sayings, concept_in(medication["code"]), reading);
  sayings.concepts.push_back(&concept_in(medication["code"]));
  sayings.unread_part = sayings.unread_part || !redaction_of(medication).empty();
  for (const auto& ingredient : medication["ingredient"].items()) {
    for (const auto* said : {&ingredient["itemCodeableConcept"], &ingredient["item"]["concept"]}) {
      take_concept(sayings, *said, reading);
      sayings.concepts.push_back(said);
    }
    for (const auto* item : {&ingredient["itemReference"], &ingredient["item"]["reference"]}) {
      if (!item->is_object()) continue;
      const auto display = (*item)["display"].text();
      const auto* made_of = depth < kIngredientDepth ? reading.set.resolve(*item, r) : nullptr;
      if (made_of) take_medication(sayings, *made_of, r, reading, depth + 1);
      if (!display.empty()) take_concept(sayings, json::Value::object({{"text", display}}), reading);
      sayings.unread_part = sayings.unread_part || (!made_of && display.empty());
    }
  }
}

std::string name_of_medication(const json::Value& medication) {
  if (auto title = title_of(medication["code"]); !title.empty()) return title;
  std::string names;
  for (const auto& ingredient : medication["ingredient"].items()) {
    auto title = title_of(first_of(ingredient, {"itemCodeableConcept"}));
    if (title.empty()) title = title_of(ingredient["item"]["concept"]);
    for (const auto* item : {&ingredient["itemReference"], &ingredient["item"]["reference"]})
      if (title.empty()) title = (*item)["display"].text();
    if (!title.empty()) names += (names.empty() ? "" : " + ") + title;
  }
  return names;
}

void take_reference(Sayings& sayings, Drug& drug, const json::Value& reference, const Resource& r, Reading& reading) {
  const auto* medication = reading.set.resolve(reference, r);
  const std::string display(reference["display"].text());
  if (medication && (*medication)["status"].text() != "entered-in-error") {
    take_medication(sayings, *medication, r, reading);
    drug.name = name_of_medication(*medication);
  } else {
    reading.warn(r, "medicationReference", "unresolved", "The Medication is not here (" + shown(reference, r, reading) + ").");
  }
  if (!display.empty()) take_concept(sayings, json::Value::object({{"text", display}}), reading);
  if (drug.name.empty()) drug.name = display.empty() ? std::string(reference["reference"].text()) : display;
}

}  // namespace

bool is_heparin(Agent agent) {
  return agent == Agent::heparin || agent == Agent::enoxaparin || agent == Agent::dalteparin || agent == Agent::tinzaparin;
}

std::vector<Agent> drugs_named(std::string_view text, const Reading& reading) {
  const auto named = named_in(text, reading.terms);
  std::vector<Agent> agents;
  if (named.excluded || named.flush) return agents;
  for (const auto agent : named.agents)
    if (agent != Agent::other) agents.push_back(agent);
  return agents;
}

Drug drug_of(const json::Value& body, const Resource& r, Reading& reading) {
  Drug drug;
  Sayings sayings;
  const auto& medication = body["medication"];
  for (const auto* said : {&body["medicationCodeableConcept"], &medication["concept"], &medication}) {
    if (!said->has("coding") && !said->has("text")) continue;
    take_concept(sayings, *said, reading);
    sayings.concepts.push_back(said);
    if (drug.name.empty()) drug.name = title_of(*said);
  }
  for (const auto* reference : {&body["medicationReference"], &medication["reference"]})
    if (reference->is_object()) take_reference(sayings, drug, *reference, r, reading);
  if (sayings.coded.empty()) {
    decide_named(drug, sayings, r, reading);
  } else {
    decide_coded(drug, sayings, r, reading);
  }
  if (drug.agent == Agent::other && sayings.unread_part) unidentified(drug, r, reading, "ingredient-unread", "not all that it is made of is here.");
  return drug;
}

}  // namespace fhir_read
