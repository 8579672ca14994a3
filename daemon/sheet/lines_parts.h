// The parts of lines_of(), one file for each group.
#pragma once

#include <optional>
#include <vector>

#include "sheet/lines.h"
#include "sheet/say.h"

namespace sheet {

// lines_head.cpp
Head head_of(const Say&, const Fonts&);
Foot foot_of(const Say&);
std::vector<Plate> plates_of(const Say&);
Figure figure_of(const Say&);
/// When the permission to take the sheath out of this site ends by the clock: the first of its gates to become too old. None: it is none, or does not end.
std::optional<Instant> pull_ends(const clinical::SitePlan&, const clinical::Milestone& step);
// lines_now.cpp
BigWord next_of(const Say&);
BigWord flat_of(const Say&);
std::vector<std::string> then_of(const Say&);
std::vector<Callout> alerts_of(const Say&);
std::vector<Callout> unknown_of(const Say&);
// lines_clock.cpp
std::optional<Timeline> timeline_of(const Say&);
void add_clock(const Say&, std::vector<Section>&);
void add_gates(const Say&, std::vector<Section>&);
// lines_record.cpp: what is filled in by hand
void add_checks(const Say&, std::vector<Section>&);
void add_compression(const Say&, std::vector<Section>&);
// lines_facts.cpp
void add_drugs(const Say&, std::vector<Section>&);
void add_values(const Say&, std::vector<Section>&);
void add_reasons(const Say&, std::vector<Section>&);
// lines_calls.cpp
void add_cautions(const Say&, std::vector<Section>&);
void add_calls(const Say&, std::vector<Section>&);
void add_local(const Say&, std::vector<Section>&);
void add_patient(const Say&, std::vector<Section>&);

}  // namespace sheet
