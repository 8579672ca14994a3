// Short ways to the sentences of a sheet.
#pragma once

#include <string>
#include <string_view>

#include "sheet/sheet.h"

namespace sheet {

class Say {
 public:
  explicit Say(const SheetInput& in) : in_(in) {}

  std::string text(std::string_view key, const words::Arguments& arguments = {}) const;  ///< "sheet.<key>" of [text]
  std::string label(std::string_view key) const;                                          ///< "sheet.<key>" of [label]
  std::string term(std::string_view group, std::string_view name) const;
  /// An argument that is the key of a site is said as the site.
  std::string reason(clinical::Reason) const;
  std::string reason(const std::optional<clinical::Reason>& r) const { return r ? reason(*r) : std::string{}; }
  /// Permissions are rounded up to the minute, everything else down.
  std::string time(Instant at, words::Format format = words::Format::plain) const { return in_.words.time(at, in_.where, format); }
  /// Hour and minute alone, and the day ("3 Mar") where it is not the sheet's.
  std::string hour(Instant at, words::Format) const;
  std::string day(Instant at, words::Format) const;
  /// As the source wrote it, its unit as people write it where it is a code: "7500 [iU]" is "7500 U". `per` follows it: "/kg".
  std::string value(const clinical::Value&, std::string_view per = "") const;
  std::string length(clinical::seconds span) const { return in_.words.duration(span); }

  /// "Steps: RIGHT femoral artery".
  std::string title(std::string_view key, const clinical::SitePlan&) const;
  /// Two texts of one list, with what the language puts between them.
  std::string listed(std::string a, const std::string& b) const;
  std::string side(clinical::Side) const;             ///< "RIGHT", "SIDE UNKNOWN"
  /// "RIGHT femoral artery": which site, where there are several; empty with one.
  std::string which(const clinical::SitePlan&) const;
  /// The same, with one site its side alone.
  std::string where(const clinical::SitePlan&) const;
  std::string size(const clinical::SitePlan&) const;  ///< "6 F femoral artery"
  std::string step(const clinical::Milestone&) const;

  const SheetInput& in() const { return in_; }

 private:
  const SheetInput& in_;
};

std::string date_text(const words::Words&, date::local_days, bool with_year);
using words::capital;
/// Two texts with `between` where both have something to say.
std::string joined(std::string a, std::string_view between, const std::string& b);

const clinical::Milestone* find_step(const clinical::SitePlan&, clinical::Step);

}  // namespace sheet
