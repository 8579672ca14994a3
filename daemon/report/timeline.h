// Plans as timeline.json: instants RFC 3339 UTC, nulls written out, order of members and of array items fixed by content.
#pragma once

#include <string>
#include <vector>

#include "clinical/plan.h"
#include "clinical/protocol.h"
#include "fhir/issue.h"
#include "json/tree.h"
#include "words/plan_words.h"

namespace report {

/// The whole document. `issues` are sorted and each is listed once. Sentences are in the voice's language and zone; their times carry a date
/// unless they lie on the local day on which the case began, whatever the day of the voice's context.
json::Value timeline(const std::vector<clinical::CasePlan>&, const clinical::Protocol&, clinical::Instant as_of, const words::Voice&, fhir::Issues issues);

/// One case without what moves by itself: no planHash, nextChange, fractionLeft. With the protocol it was made under. Two equal views mean
/// that there is nothing to write.
json::Value written_view(const clinical::CasePlan&, const clinical::Protocol&, const words::Voice&);
/// sha256 of the view as written by json::write, lower-case hex.
std::string plan_hash(const json::Value& view);
/// Over all cases: sha256 of their hashes, each followed by a line feed.
std::string plan_hash(const std::vector<std::string>& case_hashes);

}  // namespace report
