// Elements that all written resources share.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "fhir_write/context.h"
#include "json/tree.h"
#include "words/plan_words.h"

namespace fhir_write {

json::Value coding(std::string_view system, std::string_view code, std::string_view display = {});
/// CodeableConcept; codings may be empty.
json::Value concept_of(std::vector<json::Value> codings, std::string_view text = {});
/// Reference element; null when both parts are empty.
json::Value reference(const std::string& to, const std::string& display = {}, const char* type = nullptr);
json::Value reference(const Named&);
/// Period with the ends that are known; null when none is. An end before the start is left out.
json::Value period(const std::optional<clinical::Instant>& start, const std::optional<clinical::Instant>& end);
json::Value quantity(clinical::Micro value, std::string_view unit, std::string_view ucum, const char* comparator = nullptr);

/// "system|code|display" as CodeableConcept; parts may be left out at the end.
json::Value concept_from(std::string_view written);
/// The resource with that id, which stands second, as people expect it.
json::Value with_id(json::Value resource, const std::string& id);

/// The program as a logical reference to a Device.
json::Value device(const WriterContext&);
json::Value patient(const clinical::CasePlan&);
json::Value identifiers(const std::string& uuid);
/// PlanDefinition canonical with version.
std::string plan_definition(const WriterContext&);

/// resourceType, meta (HTEST, installation) and language: how every resource begins.
json::Value begin(const WriterContext&, const char* type);
/// The identity as a tag, for what has no identifier (Binary, Provenance): by it a write whose answer was lost is found again.
void tag_with(json::Value& resource, const std::string& uuid);
/// Adds text with status generated. `xhtml` is well-formed content of the div.
void narrate(json::Value& resource, const WriterContext&, const std::string& xhtml);
/// Markup characters as entities; characters that XML forbids become spaces.
std::string escaped(std::string_view text);
std::string paragraph(std::string_view text, bool bold = false);

/// The body of an item on the server. Throws std::logic_error when the context has none for the key.
json::Value body_on_server(const WriterContext&, const clinical::ItemKey&);
/// An instant that the body on the server has and that stays as first written; else now.
std::string first_written(const WriterContext&, const clinical::ItemKey&, const char* element);
std::string word(clinical::Intent);

/// A sentence of [text]; a reason; the term "group.name".
std::string say(const WriterContext&, std::string_view key, const words::Arguments& = {});
std::string say(const WriterContext&, const clinical::Reason&);
std::string term(const WriterContext&, std::string_view group, std::string_view name);
words::Voice voice(const WriterContext&);
/// "Proposal - protocol not approved. TEST DATA. REHEARSAL ..." as far as it applies; else empty.
std::string standing_words(const WriterContext&);
/// That Tasks wait for their turn; empty where none does.
std::string more_follow(const WriterContext&);
/// Tasks that somebody of the unit before still has; empty where there are none.
std::string in_other_hands(const WriterContext&);

}  // namespace fhir_write
