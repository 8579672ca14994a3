// The hospital's rule tables as values. Built only by profile/ (or a test) from a protocol file; nothing here has a default.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "clinical/instant.h"
#include "clinical/local_values.h"
#include "clinical/value.h"

namespace clinical {

enum class SettingUnit {
  second, minute, hour, day, year, french, centimetre, mmhg, per_minute, ratio, percent, count, gram_per_litre, gram_per_decilitre,
  milligram_per_decilitre, per_nanolitre, millilitre_per_minute, kilogram_per_square_metre, square_metre, unit_per_kilogram, celsius, millilitre, unit_per_millilitre,
  unit_per_litre, international_unit
};

/// Where a setting came from: carried to every basis.
struct Rule {
  std::string key;      ///< "gate.act.limit"
  std::string source;   ///< published source, or "common practice, no source", or "this protocol's own cautious choice"
  std::string grade;    ///< strength: G L T R O P B C D (guideline, label, trial, review, cohort, policy, book, common practice, derived)
  std::string check;    ///< V seen in a public copy, Vs seen in a secondary copy, M from memory, CP common practice, OWN this protocol's choice
  std::string date;     ///< when the value was last looked at, YYYY-MM-DD
};

struct Setting {
  Micro micro = 0;      ///< in `unit`
  SettingUnit unit{};
  Rule rule;
  /// For units of time only (second, minute, hour, day); exact.
  seconds span() const {
    const std::int64_t scale = unit == SettingUnit::day ? 86400 : unit == SettingUnit::hour ? 3600 : unit == SettingUnit::minute ? 60 : 1;
    return seconds{micro * scale / kMicro};
  }
  minutes whole_minutes() const { return std::chrono::duration_cast<minutes>(span()); }
  std::int64_t whole_number() const { return micro / kMicro; }
};

/// "4 checks every 15 min, then ...": count 0 means "until the watch ends".
struct SeriesStep {
  int count = 0;
  minutes every{};
};
struct Series {
  std::vector<SeriesStep> steps;
  Rule rule;
};

/// Who may not walk early: the early rows that it rules out, as whole French, each once, ascending; empty: it rules out none.
struct Exclusion {
  std::vector<int> rows;
  Rule rule;
};

/// The shortest rest that a trial supports, row by row, and whom those trials left out.
struct EarlyWalk {
#define EARLY_SETTING(member, key, unit) Setting member;
#define EXCLUSION(member, key) Exclusion member;
#include "clinical/early_walk.def"
#undef EARLY_SETTING
#undef EXCLUSION
  static constexpr int kSmallest = 4, kLargest = 7;  ///< French with a row
};

struct Protocol {
  std::string id, version, title;
  std::string sha256;         ///< of the file's bytes, lower-case hex; where it inherits, of the inherited file's and these
  bool approved = false;      ///< carries the approvals of two people in two roles, dated, that cover sha256 of the values
  std::string file;           ///< as named, for messages
  LocalValues local;          ///< what the hospital has to say itself
#define SETTING(member, key, unit) Setting member;
#define SERIES(member, key) Series member;
#define OPTIONAL_SETTING(member, key, unit) std::optional<Setting> member;  ///< none: not set, nothing is filled in
#include "clinical/settings.def"
#undef SETTING
#undef SERIES
#undef OPTIONAL_SETTING
  std::optional<EarlyWalk> early_walk;  ///< none: no early rows
};

/// Calls on_setting(member, key, unit) and on_series(member, key) for each entry of settings.def that every protocol has, in order.
template <class P, class OnSetting, class OnSeries>
void each_setting(P& protocol, OnSetting&& on_setting, OnSeries&& on_series) {
#define SETTING(member, key, unit) on_setting(protocol.member, key, SettingUnit::unit);
#define SERIES(member, key) on_series(protocol.member, key);
#define OPTIONAL_SETTING(member, key, unit)
#include "clinical/settings.def"
#undef SETTING
#undef SERIES
#undef OPTIONAL_SETTING
}

/// Calls on_optional(member, key, unit) for each entry of settings.def that a protocol may leave unset, in order.
template <class P, class OnOptional>
void each_optional(P& protocol, OnOptional&& on_optional) {
#define SETTING(member, key, unit)
#define SERIES(member, key)
#define OPTIONAL_SETTING(member, key, unit) on_optional(protocol.member, key, SettingUnit::unit);
#include "clinical/settings.def"
#undef SETTING
#undef SERIES
#undef OPTIONAL_SETTING
}

/// Calls on_setting(member, key, unit) and on_exclusion(member, key) for each entry of early_walk.def, in order.
template <class E, class OnSetting, class OnExclusion>
void each_early(E& early, OnSetting&& on_setting, OnExclusion&& on_exclusion) {
#define EARLY_SETTING(member, key, unit) on_setting(early.member, key, SettingUnit::unit);
#define EXCLUSION(member, key) on_exclusion(early.member, key);
#include "clinical/early_walk.def"
#undef EARLY_SETTING
#undef EXCLUSION
}

}  // namespace clinical
