// What a JSON text is about, without building its tree.
#pragma once

#include "json/tree.h"

#include <boost/system/result.hpp>

#include <array>
#include <string>
#include <string_view>

namespace json {

// Texts of some members, as the tree would give them: value["resourceType"].text(), value["id"].text(), value["meta"]["versionId"].text(). Empty where a
// member is absent or no text; of repeated members the first.
struct Outline {
  std::string resource_type, id, version_id;
  friend bool operator==(const Outline&, const Outline&) = default;
};

// Judges the whole text as parse() does: the same texts are refused, with the same fault.
boost::system::result<Outline, Fault> outline(std::string_view text, const Limits& limits = {});

// The type of a text that begins {"resourceType":"Observation" (white space aside): a quick guess, right if the text is sound and empty where it begins
// otherwise, the type holds an escape or anything else makes it doubtful.
std::string_view leading_type(std::string_view text);

}  // namespace json
