// A ward's print queue over IPP (RFC 8010, RFC 8011), straight at the printer: what it can do, one job handed over, followed, found again, taken back.
// Knows addresses of queues and the bytes of a PDF only; what a job is for is the caller's. No job, name or document is kept here between calls.
//
// Every call opens its own connection, blocks, and ends within about Patience::connect + 2 x Patience::answer (a printer that sends byte by byte may
// take longer): call from a thread of one's own. Safe from several threads. Nothing is retried here.
// A printer that wants a name and password refuses; certificates of ipps are taken as libcups is set up on the machine (client.conf).
#pragma once

#include <boost/system/result.hpp>
#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace print {

/// Why no paper comes out, as far as the printer tells. Stored: never renumbered.
enum class Trouble {
  none = 0,
  no_answer = 1,    ///< not reached, or silent
  no_paper = 2,     ///< empty, or wants paper put in
  wrong_paper = 3,  ///< does not have, or cannot take, the size of the sheet
  jam = 4,
  cover_open = 5,
  no_ink = 6,       ///< toner or ink is out
  stopped = 7,      ///< paused, stopped, shut down
  held = 8,         ///< the job is held until somebody releases it
  refuses = 9,      ///< takes no jobs, refused this one, or takes no PDF
  cancelled = 10,   ///< the job was cancelled by somebody else
  aborted = 11,     ///< the printer gave the job up, or says that it printed with errors
  other = 12        ///< it says that something is wrong and not what is known here
};

/// What is known of the paper after a call that failed.
enum class Known {
  not_sent,  ///< surely no job: not connected, or refused with a definite answer. Sending again cannot print twice
  unknown    ///< bytes may have left and no definite answer came: find() before anything is sent again
};

struct Failure {
  Known known = Known::unknown;
  bool answered = false;  ///< the printer itself said no; false: it could not be asked
  Trouble trouble = Trouble::no_answer;
  std::string text;       ///< for logs; holds no document
};
template <class T>
using Answer = boost::system::result<T, Failure>;
/// Called by value() on a Failure, which is a programming error: throws std::logic_error with the text.
[[noreturn]] void throw_exception_from_error(const Failure&, const boost::source_location&);

struct Patience {
  std::chrono::milliseconds connect{5000};
  std::chrono::milliseconds answer{15000};
};

/// A queue's own account of itself. Keywords as the printer writes them.
struct PrinterState {
  bool accepting = true;
  bool stopped = false;
  std::vector<std::string> reasons;      ///< printer-state-reasons but "none": "media-empty-report"
  std::vector<std::string> media;        ///< media-supported; empty: not told
  std::vector<std::string> media_ready;  ///< what is in the trays; empty: not told
  std::vector<std::string> formats;      ///< document-format-supported
  bool one_sided = false, unscaled = false, priorities = false;  ///< may be asked for; a printer may refuse a job that asks for what it does not have
  std::string name;                      ///< printer-info, else printer-name; may be empty
};

enum class JobState { pending, held, processing, stopped, cancelled, aborted, completed };
constexpr bool ended(JobState state) { return state >= JobState::cancelled; }

struct Job {
  int id = 0;        ///< > 0, given by the printer
  std::string name;  ///< empty: not told
  JobState state = JobState::pending;
  std::vector<std::string> reasons;             ///< job-state-reasons but "none"
  std::optional<std::int64_t> created, closed;  ///< seconds on the printer's own clock (its up time)
};

/// What find() saw.
struct Search {
  std::optional<Job> job;            ///< the newest of that name, ended or not
  std::vector<Job> others;
  std::int64_t up_seconds = 0;       ///< the printer's clock; counts from its start, or from any instant before
  std::optional<std::int64_t> keeps_seconds;  ///< how long it says that it lists ended jobs; none: not told
};

/// What to print. The name is the job's only mark to be found by: unique, ASCII, under 100 bytes, nothing about a patient in it (printers show it).
struct Wish {
  std::string name;
  std::string media;   ///< "iso_a4_210x297mm" (PWG 5101.1)
  bool first = false;  ///< ahead of others in the queue, where the printer knows priorities
};

/// "A4", "Letter", "A5" -> the media keyword; empty: another word.
std::string media_named(std::string_view paper);

Answer<PrinterState> ask(const std::string& uri, const Patience&);
/// Print-Job. The job's id: from then on the printer has it. `state` tells what may be asked for; take it from ask().
Answer<int> submit(const std::string& uri, const Wish&, std::string_view pdf, const PrinterState& state, const Patience&);
/// Asks for jobs that are not ended, then for those that are, so that none slips through by ending in between.
Answer<Search> find(const std::string& uri, const std::string& job_name, const Patience&);
/// None: the printer answers that it has no such job (any more).
Answer<std::optional<Job>> look(const std::string& uri, int job, const Patience&);
/// Success: the printer took the cancellation; look() says what became of it. A failure that was `answered`: too late, or not allowed.
Answer<void> cancel(const std::string& uri, int job, const Patience&);

/// That a search which found no job proves that there never was one: sent `age` ago at most. It proves nothing where the printer has started anew
/// since, where it lists ended jobs without names, or where it may have forgotten. RFC 8011 lets it forget at once; 60 s is what the IPP workgroup asks
/// printers for (job-history-interval-configured, proposed 7 March 2019); a job still listed that ended before ours was sent shows that nothing
/// was forgotten.
bool surely_absent(const Search&, std::chrono::seconds age);

/// What keeps a sheet of this medium from being printed now, before it is sent. Only what surely does: reports and warnings of a printer that goes on
/// printing (a second tray is empty) do not.
Trouble before_sending(const PrinterState&, std::string_view media);
/// What these reasons tell of a job that does not come out; `none` where they tell nothing.
Trouble trouble_in(const std::vector<std::string>& reasons);

}  // namespace print
