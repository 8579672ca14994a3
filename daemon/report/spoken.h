// Words for the terminal, shared by table, explain and the rows of what moved.
#pragma once

#include <string>
#include <vector>

#include "clinical/plan.h"
#include "words/plan_words.h"

namespace report {

/// "ACT 142 s (Observation/act2)" where the plan shows the value or the dose, else the reference.
std::string fact_name(const words::Voice&, const clinical::CasePlan&, const clinical::Source&);
/// Comma-separated, each once; at most `most` of them, then how many more.
std::string fact_names(const words::Voice&, const clinical::CasePlan&, const std::vector<clinical::Source>&, std::size_t most = 4);
/// The case in a line: who, number, place.
std::string person_line(const clinical::CasePlan&);
/// "Europe/Berlin", "UTC".
std::string zone_name(const words::Voice&);
/// "protocol cautious 1.0.0 (not approved), as of 2 Mar 15:00, times in UTC"
std::string head_line(const words::Voice&, const std::string& protocol, const std::string& version, bool approved, clinical::Instant as_of);

}  // namespace report
