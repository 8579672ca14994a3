// What somebody wrote beside a check, a haemostasis or a Task. It is never a finding: what is not understood asks for a look, as written.
#pragma once

#include "fhir_read/reading.h"

namespace fhir_read {

// nothing_bad: every word is known to say nothing bad, or there is none.
enum class NoteSays { nothing_bad, not_understood, trouble };
NoteSays note_says(std::string_view text, const Terminology& terms);

// All texts of `note` of a resource, one after the other; empty: none.
std::string notes_of(const json::Value& resource);

// A haemostasis that was recorded with another outcome than success, in its words; empty: none, or success. SNOMED CT 385669000 of the value set procedure-outcome
// (FHIR R4) is success, as are the words for it.
std::string failed_outcome(const json::Value& resource);

// A note that is not understood as an unread part of a check ("note"); `only_trouble`: only one that says trouble.
void add_note(clinical::SiteCheck& check, const std::string& note, bool only_trouble, const Reading& reading);

}  // namespace fhir_read
