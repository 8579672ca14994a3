#include "app/paper.h"

#include <algorithm>

namespace app {
namespace {

std::vector<PrinterSays> says_from(std::string_view text) {
  std::vector<PrinterSays> all;
  while (!text.empty()) {
    const auto end = std::min(text.find('\n'), text.size());
    const auto line = text.substr(0, end);
    const auto tab = std::min(line.find('\t'), line.size());
    all.push_back({std::string(line.substr(tab + (tab < line.size() ? 1 : 0))), std::string(line.substr(0, tab))});
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return all;
}

}  // namespace

bool prints(const Rules& rules) {
  const auto& configuration = rules.configuration;
  if (!configuration.print) return false;
  if (rules.rehearsal && configuration.print->rehearsal != "yes") return false;
  return !configuration.record || configuration.record->mode != "shadow" || configuration.print->shadow == "yes";
}

QueueChoice queue_for(const profile::Configuration::Print& print, const std::vector<std::string>& places) {
  for (const std::string& place : places)
    for (const auto& unit : print.units)
      if (unit.location == place) return {unit.queue, false};
  return {print.facility, print.facility.uri.empty()};
}

std::string_view word_of(print::Trouble trouble) {
  switch (trouble) {
    case print::Trouble::none: case print::Trouble::other: return "other";
    case print::Trouble::no_answer: return "no-answer";
    case print::Trouble::no_paper: return "no-paper";
    case print::Trouble::wrong_paper: return "wrong-paper";
    case print::Trouble::jam: return "jam";
    case print::Trouble::cover_open: return "cover-open";
    case print::Trouble::no_ink: return "no-ink";
    case print::Trouble::stopped: return "stopped";
    case print::Trouble::held: return "held";
    case print::Trouble::refuses: return "refuses";
    case print::Trouble::cancelled: return "cancelled";
    case print::Trouble::aborted: return "aborted";
  }
  return "other";
}

std::string text_of(const std::vector<PrinterSays>& all) {
  std::string text;
  for (PrinterSays one : all) {
    std::ranges::replace_if(one.printer, [](char c) { return c == '\n' || c == '\t'; }, ' ');
    text += (text.empty() ? "" : "\n") + one.trouble + "\t" + one.printer;
  }
  return text;
}

clinical::Reason paper_reason(std::string_view ask) {
  const auto all = says_from(ask);
  if (all.empty()) return {};
  clinical::Reason reason{"print.no-paper", {{"printer", all[0].printer}, {"trouble", "@printer." + all[0].trouble}}};
  if (all[0].printer.empty()) return clinical::Reason{"print.no-printer", {}};
  if (all.size() == 1) return reason;
  reason.code = "print.no-paper-second";
  reason.arguments.emplace_back("second", all[1].printer);
  reason.arguments.emplace_back("problem", "@printer." + all[1].trouble);
  return reason;
}

}  // namespace app
