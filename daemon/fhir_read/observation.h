// Parts of read_observation that stand in files of their own. Inside fhir_read only.
#pragma once

#include "fhir_read/reading.h"

namespace fhir_read {

// Observations coded from our own systems.
void read_statement(const Resource& r, const std::string& code, Reading& reading);
// Takes out each statement of the record that is denied at its time or later. After everything is read.
void withdraw_denied(Reading& reading);
void read_site_check(const Resource& r, Reading& reading);
// An Observation of one finding (urine passed, say) is a check that says nothing else.
void read_single_finding(const Resource& r, Reading& reading);

// Laboratory values, vital signs, weight and height, alone or as components. True when the Observation held any.
bool read_measurements(const Resource& r, Reading& reading);
// Values that are absent in place of those that a refused Observation names.
void keep_absent_measurements(const Resource& r, Reading& reading);

// A finding of the check: `element` is a component of an Observation or an output of a Task. False when its code is no finding.
bool take_finding(const json::Value& element, const json::Value& code, const Resource& r, std::string_view path, clinical::SiteCheck& check, Reading& reading);

// When it was written down, for what does not say when it was made: `issued`, else meta.lastUpdated; none where neither can be read.
std::optional<clinical::Moment> written_down(const Resource& r, Reading& reading);

// A check of which nobody recorded when it was made: it stands at the time at which it was written down, if that is known, and its time is an unread part of it.
// `said`: what is recorded of the time, never empty.
void time_unknown(clinical::SiteCheck& check, const Resource& r, std::string said, Reading& reading);

// A haemostasis whose outcome is not success, or beside which somebody wrote what is not understood: kept as an unread check with those words. True: it is then no
// haemostasis, for the outcome or the note denies it.
bool kept_as_doubt(const clinical::AccessEvent& event, const Resource& r, Reading& reading);

// The value that a decision quotes: of a component of an Observation or an output of a Task, as written.
std::string seen_value(const json::Value& element, const Reading& reading);

// Status of an Observation that gives a value: final, preliminary or none.
enum class ResultStatus { final, preliminary, none };
ResultStatus result_status(const Resource& r, Reading& reading);

}  // namespace fhir_read
