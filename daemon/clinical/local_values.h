// What only the local team can say, with no figure of ours: who may pull, telephone numbers, pressures, and the like.
#pragma once

#include <array>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace clinical {

/// Keys of [local] in a protocol file, in the order in which they are shown.
inline constexpr std::array<std::string_view, 14> kLocalKeys{
    "who-may-pull",    "second-person",    "call-number",    "emergency-number", "pressure-full",        "pressure-partial",     "pressure-low",
    "pulse-scale",     "restart-anticoagulant", "after-lysis", "large-bore",     "before-discharge",     "driving-and-lifting",  "puncture-again"};

/// Key and text, one for each key in that order. An empty text is not set: shown as such, never filled in.
using LocalValues = std::vector<std::pair<std::string, std::string>>;

}  // namespace clinical
