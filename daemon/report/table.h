// The plan on a terminal, 100 columns, for somebody who is tired.
#pragma once

#include <string>
#include <vector>

#include "clinical/change.h"
#include "clinical/plan.h"
#include "clinical/protocol.h"
#include "words/plan_words.h"

namespace report {

/// State, what is missing, next act, then conditions and steps of each site. Times in the voice's zone; runs of checks with one status share a
/// row. Ends with a line feed.
std::string table(const std::vector<clinical::CasePlan>&, const clinical::Protocol&, clinical::Instant as_of, const words::Voice&);

/// One row for each thing that moved: where, step, from -> to, by how much, because of which fact. Runs of checks that moved alike share one.
/// No rows: "".
std::string moved_table(const clinical::CasePlan& previous, const clinical::CasePlan& next, const words::Voice&);
/// The same rows as single lines without columns, for logs. `arrived`: the facts that caused the new plan, named where the basis of a row names none.
std::vector<std::string> moved_lines(const clinical::CasePlan& previous, const clinical::CasePlan& next, const words::Voice&,
                                     const std::vector<clinical::Source>& arrived = {});

/// Every time of the plan with the rule, its source, the facts and the arithmetic behind it, in sentences.
std::string explain(const clinical::CasePlan&, const clinical::Protocol&, clinical::Instant as_of, const words::Voice&);

}  // namespace report
