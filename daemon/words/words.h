// Every printed or sent sentence, in one language, from templates/<language>/*.toml. Nothing here throws.
//
// The files hold the tables [reason] (sentences for clinical::Reason codes), [text] (other sentences), [term] (words for coded values) and
// [label] (short words without arguments). Dotted names may be nested: [term.agent] heparin = "heparin" is term "agent.heparin".
//   "gate.act.over-limit" = "ACT {value} at {at}: over {limit}"
//   "checks.left" = { one = "one check left", other = "{n} checks left" }     chosen by the whole number that is the argument n
#pragma once

#include <filesystem>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "clinical/plan.h"
#include "tables/fault.h"
#include "words/context.h"
#include "words/sentence.h"

namespace words {

using Arguments = std::vector<std::pair<std::string, clinical::Argument>>;

struct LoadedWords;

/// Copies share the record of what was missing. Safe to use from several threads.
class Words {
 public:
  /// No sentence at all: everything shows as its code.
  Words();

  const std::string& language() const { return language_; }  ///< BCP 47 tag of the folder that was read
  /// Written from right to left. Each argument then stands in its sentence as a direction isolate (Unicode Standard Annex 9): from the right where
  /// it has a letter of such a script, else from the left, so that "141 s" and "18:12" keep their own order.
  bool right_to_left() const { return right_to_left_; }

  /// A reason with an empty code is no sentence: "". A code without a sentence shows as "[code: name value, ...]" and is noted in missing().
  std::string render(const clinical::Reason&, const Context&) const;
  /// A value that stands beside words and not in a sentence, so that it keeps its own order there too; as it is in a language from the left.
  std::string apart(const std::string& value) const;
  /// From [text]; a missing one as for render().
  std::string text(std::string_view key, const Arguments&, const Context&) const;
  std::string text(std::string_view key) const;
  /// From [label]; a missing one shows as "[key]" and is noted.
  std::string label(std::string_view key) const;
  /// From [term] ("agent.heparin", without '@'); a missing one shows as the key itself and is noted.
  std::string term(std::string_view key) const;
  bool has_reason(std::string_view code) const { return find("reason", code) != nullptr; }
  bool has_term(std::string_view key) const { return find("term", key) != nullptr; }

  /// "18:12"; "3 Mar 18:12" on another day than the context's, or with Format::date; "02:30 (UTC+1)" on a day on which the zone changes its offset.
  /// To the minute: rounded down, with Format::up rounded up.
  std::string time(clinical::Instant, const Context&, Format = Format::plain) const;
  /// As precisely as it was recorded: "18:12"; "2 Mar, time not recorded" for a day; "1 Mar to 31 Mar, day not recorded"; else "17:30 to 18:00".
  std::string moment(const clinical::Moment&, const Context&, Format = Format::plain) const;
  /// "25 min", "2 h 45 min", "6 h", "0 min", "-5 min"; seconds only where there are some: "1 min 30 s". Hours are not made into days.
  std::string duration(clinical::seconds, Format = Format::plain) const;
  /// One argument as it stands in a sentence.
  std::string argument(const clinical::Argument&, const Context&, Format = Format::plain) const;

  /// Takes from another language what this one lacks. Not while others read this object.
  void complete_from(const Words& other);

  /// What was asked for so far and is not in the files: "reason gate.x", "term agent.y", "argument z of reason gate.x". Sorted, each once.
  std::vector<std::string> missing() const;

 private:
  struct Entry {
    std::map<std::string, std::vector<Piece>, std::less<>> forms;  // plural form -> sentence; a single sentence is "other"
    tables::Fault place;                                           // where it stands, for messages
  };
  using Entries = std::map<std::string, Entry, std::less<>>;  // "reason gate.act.over-limit"
  struct Absent;
  class Loader;

  const Entry* find(std::string_view table, std::string_view key) const;
  std::string sentence(std::string_view table, std::string_view key, const Arguments&, const Context&) const;
  std::string filled(const std::vector<Piece>&, std::string_view name, const Arguments&, const Context&) const;
  std::string word(std::string_view table, std::string_view key, std::string_view fallback) const;
  std::string date(date::local_days) const;
  void note(std::string what) const;

  std::string language_;
  bool right_to_left_ = false;
  std::shared_ptr<const Entries> entries_;
  std::shared_ptr<Absent> absent_;

  friend LoadedWords load_words(const std::filesystem::path& templates, const std::string& language);
  friend std::vector<tables::Fault> compare(const Words& reference, const Words& other);
};

struct LoadedWords {
  Words words;                         ///< what could be read, also when there are faults
  std::vector<tables::Fault> faults;   ///< sorted by place: unknown tables, repeated keys, sentences with faulty braces, forms without "other"
};

/// Reads every *.toml of templates/<language>, or of the language without its region ("en" for "en-GB").
LoadedWords load_words(const std::filesystem::path& templates, const std::string& language);

/// The first letter large: "östlich" gives "Östlich". A letter without a large form stays.
std::string capital(std::string text);

/// Keys that only one of the two languages has, and sentences whose arguments differ. A fault stands at the place in the file that has the key.
std::vector<tables::Fault> compare(const Words& reference, const Words& other);

}  // namespace words
