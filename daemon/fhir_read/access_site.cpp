#include "fhir_read/access_site.h"

#include <algorithm>

#include "fhir/codes.h"

namespace fhir_read {
namespace {

using clinical::Side;
using clinical::Vessel;

// What one concept says. `qualifier` holds sides that count only beside a femoral site.
struct Said {
  bool femoral = false;
  bool other_site = false;
  std::vector<clinical::Recorded<Side>> sides, qualifiers;
  std::vector<clinical::Recorded<Vessel>> vessels;
};

template <class T>
void add(std::vector<clinical::Recorded<T>>& list, T value, clinical::Source source) {
  if (value == T::unknown) return;
  const auto same = std::ranges::find(list, value, &clinical::Recorded<T>::value);
  if (same == list.end()) {
    list.push_back({value, std::move(source)});
  } else if (!source.low_confidence) {
    same->source.low_confidence = false;
  }
}

void add_laterality(std::vector<clinical::Recorded<Side>>& list, Laterality side, const clinical::Source& source) {
  if (side != Laterality::right) add(list, Side::left, source);
  if (side != Laterality::left) add(list, Side::right, source);
}

void take_site(Said& said, const SiteMeaning& meaning, const clinical::Source& source) {
  said.femoral = said.femoral || meaning.femoral;
  add(said.sides, meaning.side, source);
  add(said.vessels, meaning.vessel, source);
}

void take_codes(Said& said, const json::Value& concept_element, const Resource& r, const Reading& reading) {
  for (const auto& code : codes_of(concept_element, reading)) {
    if (const auto* site = reading.terms.sites.find(code.key)) {
      take_site(said, *site, r.fact_source());
    } else if (const auto* side = reading.terms.laterality.find(code.key)) {
      add_laterality(said.qualifiers, *side, r.fact_source());
    } else if (!code.mapped) {
      said.other_site = true;
    }
  }
}

// Every name of a site and every word for a side in a text; low confidence.
void take_text(Said& said, const std::string& text, const Resource& r, const Reading& reading) {
  const auto words = words_of(text);
  for (const auto& name : reading.terms.sites.names) {
    if (name.phrase.match(words) == Phrase::Match::yes) take_site(said, name.meaning, r.fact_source(true));
  }
  std::size_t side_words = 0;
  for (const auto& name : reading.terms.laterality.names) {
    if (name.phrase.match(words) != Phrase::Match::yes) continue;
    add_laterality(said.qualifiers, name.meaning, r.fact_source(true));
    ++side_words;
  }
  // "Left side" is a qualifier; "left coronary artery" is a site of its own.
  const auto more_words = words.size() - side_words - static_cast<std::size_t>(has_phrase(words, {"side"}));
  if (!said.femoral && more_words > 0) said.other_site = true;
}

Said said_by(const json::Value& concept_element, const Resource& r, const Reading& reading) {
  Said said;
  take_codes(said, concept_element, r, reading);
  for (const auto& text : texts_of(concept_element)) take_text(said, text, r, reading);
  return said;
}

void merge(AccessSite& site, const Said& said) {
  site.femoral = true;
  for (const auto* sides : {&said.sides, &said.qualifiers}) {
    for (const auto& side : *sides) add(site.sides, side.value, side.source);
  }
  for (const auto& vessel : said.vessels) add(site.vessels, vessel.value, vessel.source);
}

constexpr std::string_view kApproach = "http://hl7.org/fhir/StructureDefinition/procedure-approachBodyStructure";
constexpr std::string_view kBodySite = "http://hl7.org/fhir/StructureDefinition/bodySite";

// A place with what qualifies it; the parts of one BodyStructure are read apart, so that the side of one is not taken for that of another.
void add_part(const json::Value& place, std::initializer_list<const json::Value*> qualifiers, const Resource& r, Reading& reading, AccessSite& site) {
  json::Value concepts = json::Value::array();
  concepts.push(place);
  for (const auto* some : qualifiers)
    for (const auto* one : list_of(*some)) concepts.push(*one);
  add_body_sites(concepts, r, reading, site);
}

// R4: location with locationQualifier; R5: includedStructure with laterality and qualifier. What is excluded is not read.
void add_body_structure(const json::Value& reference, std::string_view path, const Resource& r, Reading& reading, AccessSite& site) {
  const auto* structure = reading.set.resolve(reference, r);
  if (!structure || (*structure)["resourceType"].text() != "BodyStructure") {
    add_body_sites(json::Value::object({{"text", reference["display"]}}), r, reading, site);
    return reading.warn(r, path, "unresolved", "Names a BodyStructure that is not here: " + shown(reference, r, reading) + ".");
  }
  if ((*structure)["location"].is_object()) add_part((*structure)["location"], {&(*structure)["locationQualifier"]}, r, reading, site);
  for (const auto& part : (*structure)["includedStructure"].items()) add_part(part["structure"], {&part["laterality"], &part["qualifier"]}, r, reading, site);
}

void add_extensions(const json::Value& element, std::string_view url, const Resource& r, Reading& reading, AccessSite& site) {
  for (const auto& extension : element["extension"].items())
    if (extension["url"].text() == url) add_body_structure(extension["valueReference"], "extension", r, reading, site);
}

bool speaks_of_access(const std::vector<std::string>& words) {
  static const std::vector<std::string> access{"approach", "access", "via", "transfemoral", "puncture", "zugang"};
  return std::ranges::any_of(access, [&](const std::string& w) { return std::ranges::find(words, w) != words.end(); });
}

// In the title of a procedure a femoral vessel may be the target; only words of access make it the puncture.
void add_title(const json::Value& procedure, const Resource& r, Reading& reading, AccessSite& site) {
  for (const auto& text : texts_of(procedure["code"])) {
    if (!speaks_of_access(words_of(text))) continue;
    Said said;
    take_text(said, text, r, reading);
    if (said.femoral) merge(site, said);
  }
}

std::vector<std::string> sentences_of(std::string_view text) {
  std::vector<std::string> sentences(1);
  for (const char c : text) {
    if (c == '.' || c == ';' || c == ',' || c == '\n') sentences.emplace_back();
    else sentences.back() += c;
  }
  return sentences;
}

// A sentence of a note that speaks of the access at a femoral vessel and of one side only; it says nothing of whether there was one.
void add_notes(const json::Value& procedure, const Resource& r, const Reading& reading, AccessSite& site) {
  for (const auto& note : procedure["note"].items())
    for (const auto& sentence : sentences_of(note["text"].text())) {
      if (!speaks_of_access(words_of(sentence))) continue;
      Said said;
      take_text(said, sentence, r, reading);
      for (const auto& side : said.qualifiers) add(said.sides, side.value, side.source);
      if (said.femoral && said.sides.size() == 1) add(site.sides, said.sides.front().value, said.sides.front().source);
    }
}

bool has_place(const Reading& reading, const char* fact, const char* place) {
  const auto& places = reading.site.places_of(fact);
  return std::ranges::find(places, place) != places.end();
}

// The places that `fact` does not have take no part in it: their sayings are dropped.
template <class T>
void keep_if(bool keep, std::vector<clinical::Recorded<T>> said, std::vector<clinical::Recorded<T>>& into) {
  if (!keep) return;
  for (auto& s : said) add(into, s.value, std::move(s.source));
}

}  // namespace

void add_body_sites(const json::Value& concepts, const Resource& r, Reading& reading, AccessSite& site) {
  std::vector<Said> all;
  for (const auto* one : list_of(concepts)) all.push_back(said_by(*one, r, reading));
  const bool femoral = std::ranges::any_of(all, &Said::femoral);
  for (const auto& said : all) {
    const bool lone_qualifier = !said.femoral && !said.other_site && !said.qualifiers.empty();
    if (said.femoral || (femoral && lone_qualifier)) merge(site, said);
  }
}

namespace {

// What the site's own expression selects: a concept, a coding or a text. `beside`: a femoral vessel, where the expression is for side or vessel,
// so that "Right" alone is the side of the access.
AccessSite site_selected(const json::Value& selected, bool beside, const Resource& r, Reading& reading) {
  json::Value concepts = json::Value::array();
  if (beside) concepts.push(json::Value::object({{"text", "femoral"}}));
  if (selected.is_string()) concepts.push(json::Value::object({{"text", selected}}));
  else if (selected.has("code")) concepts.push(json::Value::object({{"coding", json::Value::array({selected})}}));
  else concepts.push(selected);
  AccessSite part;
  add_body_sites(concepts, r, reading, part);
  return part;
}

void add_selected(const Resource& r, Reading& reading, AccessSite& whole) {
  for (const auto& value : selected_by("femoral", r, reading)) whole.femoral = whole.femoral || value.boolean() == true || site_selected(value, false, r, reading).femoral;
  for (const auto& value : selected_by("side", r, reading)) keep_if(true, site_selected(value, true, r, reading).sides, whole.sides);
  for (const auto& value : selected_by("vessel", r, reading)) keep_if(true, site_selected(value, true, r, reading).vessels, whole.vessels);
}

}  // namespace

void add_sites_of(const json::Value& resource, const Resource& r, Reading& reading, AccessSite& site) {
  add_body_sites(resource["bodySite"], r, reading, site);
  if (resource["bodyStructure"].is_object()) add_body_structure(resource["bodyStructure"], "bodyStructure", r, reading, site);
  add_extensions(resource, kBodySite, r, reading, site);
  for (const auto* one : list_of(resource["bodySite"])) add_extensions(*one, kBodySite, r, reading, site);
}

AccessSite access_site_of(const json::Value& procedure, const Resource& r, Reading& reading) {
  AccessSite whole;
  const auto take = [&](const char* place, auto&& read) {
    AccessSite part;
    read(part);
    whole.femoral = whole.femoral || (part.femoral && has_place(reading, "femoral", place));
    keep_if(has_place(reading, "side", place), std::move(part.sides), whole.sides);
    keep_if(has_place(reading, "vessel", place), std::move(part.vessels), whole.vessels);
  };
  take("body-site", [&](AccessSite& part) { add_sites_of(procedure, r, reading, part); });
  take("approach", [&](AccessSite& part) { add_extensions(procedure, kApproach, r, reading, part); });
  take("text", [&](AccessSite& part) {
    add_title(procedure, r, reading, part);
    add_notes(procedure, r, reading, part);
  });
  add_selected(r, reading, whole);
  if (whole.sides.size() > 1) reading.warn(r, "bodySite", "side-contradicted", "Left and right are both said; the side must be confirmed at the bedside.");
  return whole;
}

clinical::Side only_side(const AccessSite& site) { return site.sides.size() == 1 ? site.sides.front().value : Side::unknown; }

clinical::Vessel only_vessel(const AccessSite& site) { return site.vessels.size() == 1 ? site.vessels.front().value : Vessel::unknown; }

namespace {

bool is_access_event(const json::Value& procedure, const Reading& reading) {
  const auto codes = codes_of(procedure["code"], reading);
  return std::ranges::any_of(codes, [&](const Code& one) { return one.key.system == fhir::system_uri::access_event || reading.terms.events.contains(one.key); });
}

}  // namespace

std::string named_procedure(const Resource& r, const Reading& reading) {
  std::string found;
  bool is_part = false;
  for (const auto* field : {"partOf", "focus"}) {
    for (const auto* reference : list_of(r.body[field])) {
      const auto target = fhir::read_reference(*reference, r.base_url);
      if (!target.is("Procedure")) continue;
      std::string key = target.key();
      const auto* body = reading.set.resolve(*reference, r);
      std::string whole = body ? first_key((*body)["partOf"], "Procedure", r) : "";
      if (body && !whole.empty() && is_access_event(*body, reading)) {
        key = whole;
        const auto* outer = reading.set.find(r.source, key);
        whole = outer ? first_key(outer->body["partOf"], "Procedure", r) : "";
      }
      if (!found.empty() && (is_part || whole.empty())) continue;
      found = std::move(key);
      is_part = !whole.empty();
    }
    if (!found.empty() && is_part) break;
  }
  return found;
}

}  // namespace fhir_read
