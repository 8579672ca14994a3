// What a printer's keywords mean for the sheet. Keywords and severities: RFC 8011 5.4.12 (printer-state-reasons), PWG 5100.9.
#include <algorithm>
#include <array>
#include <string_view>

#include "print/printer.h"

namespace print {
namespace {

struct Word {
  std::string_view keyword;
  Trouble means;
};

// The first that matches tells: what a person at the printer can put right stands before what follows from it.
constexpr std::array kWords{
    Word{"media-jam", Trouble::jam},
    Word{"cover-open", Trouble::cover_open},
    Word{"door-open", Trouble::cover_open},
    Word{"interlock-open", Trouble::cover_open},
    Word{"media-empty", Trouble::no_paper},
    Word{"media-needed", Trouble::no_paper},
    Word{"input-tray-missing", Trouble::no_paper},
    Word{"output-area-full", Trouble::other},
    Word{"output-tray-missing", Trouble::other},
    Word{"toner-empty", Trouble::no_ink},
    Word{"marker-supply-empty", Trouble::no_ink},
    Word{"marker-waste-full", Trouble::no_ink},
    Word{"opc-life-over", Trouble::no_ink},
    Word{"developer-empty", Trouble::no_ink},
    Word{"fuser-over-temp", Trouble::other},
    Word{"shutdown", Trouble::stopped},
    Word{"offline", Trouble::stopped},
    Word{"stopped-partly", Trouble::stopped},
    Word{"stopping", Trouble::stopped},
    Word{"moving-to-paused", Trouble::stopped},
    Word{"paused", Trouble::stopped},
    Word{"printer-stopped", Trouble::stopped},           // of a job
    Word{"job-hold-until-specified", Trouble::held},
    Word{"resources-are-not-ready", Trouble::wrong_paper},
    Word{"timed-out", Trouble::no_answer},               // a spooler that does not reach its printer
    Word{"connecting-to-device", Trouble::no_answer},
};

std::string_view without_severity(std::string_view reason) {
  for (const std::string_view severity : {"-report", "-warning", "-error"})
    if (reason.ends_with(severity)) return reason.substr(0, reason.size() - severity.size());
  return reason;
}

bool is_mild(std::string_view reason) { return reason.ends_with("-report") || reason.ends_with("-warning"); }

bool has(const std::vector<std::string>& all, std::string_view word) { return std::ranges::find(all, word) != all.end(); }

}  // namespace

Trouble trouble_in(const std::vector<std::string>& reasons) {
  for (const Word& word : kWords)
    for (const std::string& reason : reasons)
      if (without_severity(reason).starts_with(word.keyword)) return word.means;
  return Trouble::none;
}

Trouble before_sending(const PrinterState& state, std::string_view media) {
  if (!state.formats.empty() && !has(state.formats, "application/pdf")) return Trouble::refuses;
  if (!state.media.empty() && !has(state.media, media)) return Trouble::wrong_paper;
  if (!state.accepting) return Trouble::refuses;
  if (state.stopped) {
    const Trouble told = trouble_in(state.reasons);
    return told == Trouble::none ? Trouble::stopped : told;
  }
  std::vector<std::string> grave;
  std::ranges::copy_if(state.reasons, std::back_inserter(grave), [](const std::string& reason) { return !is_mild(reason); });
  if (const Trouble told = trouble_in(grave); told != Trouble::none) return told;
  if (!state.media_ready.empty() && !has(state.media_ready, media)) return Trouble::wrong_paper;
  return Trouble::none;
}

bool surely_absent(const Search& search, std::chrono::seconds age) {
  if (search.job || search.up_seconds < age.count()) return false;
  const auto nameless = [](const Job& job) { return job.name.empty(); };
  if (std::ranges::any_of(search.others, nameless)) return false;
  constexpr std::int64_t usual = 60;
  if (age.count() <= search.keeps_seconds.value_or(usual)) return true;
  const std::int64_t sent = search.up_seconds - age.count();
  return std::ranges::any_of(search.others, [sent](const Job& job) { return job.closed && *job.closed <= sent; });
}

std::string media_named(std::string_view paper) {
  if (paper == "A4") return "iso_a4_210x297mm";
  if (paper == "A5") return "iso_a5_148x210mm";
  if (paper == "Letter") return "na_letter_8.5x11in";
  return {};
}

}  // namespace print
