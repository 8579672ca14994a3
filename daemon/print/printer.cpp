#include "print/printer.h"

#include <algorithm>
#include <array>

#include "print/ipp_call.h"

namespace print {
namespace {

template <std::size_t N>
void ask_for(ipp_t* request, const std::array<const char*, N>& attributes) {
  ippAddStrings(request, IPP_TAG_OPERATION, IPP_TAG_KEYWORD, "requested-attributes", static_cast<int>(N), nullptr, attributes.data());
}

std::optional<std::int64_t> number_of(ipp_t* response, const char* attribute) {
  ipp_attribute_t* found = ippFindAttribute(response, attribute, IPP_TAG_ZERO);
  const ipp_tag_t tag = found ? ippGetValueTag(found) : IPP_TAG_NOVALUE;
  if (tag != IPP_TAG_INTEGER && tag != IPP_TAG_ENUM) return std::nullopt;
  return ippGetInteger(found, 0);
}

std::vector<std::string> reasons_of(ipp_t* response, const char* attribute) {
  auto reasons = words_of(response, attribute);
  std::erase(reasons, "none");
  return reasons;
}

bool offers(ipp_t* response, const char* attribute, const char* value) {
  const auto words = words_of(response, attribute);
  return std::ranges::find(words, value) != words.end();
}

JobState state_of(std::int64_t number) {
  switch (static_cast<ipp_jstate_t>(number)) {
    case IPP_JSTATE_HELD: return JobState::held;
    case IPP_JSTATE_PROCESSING: return JobState::processing;
    case IPP_JSTATE_STOPPED: return JobState::stopped;
    case IPP_JSTATE_CANCELED: return JobState::cancelled;
    case IPP_JSTATE_ABORTED: return JobState::aborted;
    case IPP_JSTATE_COMPLETED: return JobState::completed;
    default: return JobState::pending;
  }
}

constexpr std::array kJobAttributes{"job-id", "job-name", "job-state", "job-state-reasons", "time-at-creation", "time-at-completed", "job-printer-up-time"};

// Takes one attribute of a job group into `job`.
void take(ipp_attribute_t* attribute, Job& job) {
  const char* named = ippGetName(attribute);
  const std::string name = named ? named : "";
  const ipp_tag_t tag = ippGetValueTag(attribute);
  const bool number = tag == IPP_TAG_INTEGER || tag == IPP_TAG_ENUM;
  if (name == "job-name") {
    if (const char* text = ippGetString(attribute, 0, nullptr)) job.name = text;
  } else if (name == "job-state-reasons") {
    for (int i = 0; i < ippGetCount(attribute); ++i)
      if (const char* text = ippGetString(attribute, i, nullptr); text && std::string_view(text) != "none") job.reasons.emplace_back(text);
  } else if (number) {
    const int value = ippGetInteger(attribute, 0);
    if (name == "job-id") job.id = value;
    else if (name == "job-state") job.state = state_of(value);
    else if (name == "time-at-creation") job.created = value;
    else if (name == "time-at-completed") job.closed = value;
  }
}

std::vector<Job> jobs_in(ipp_t* response) {
  std::vector<Job> jobs;
  bool inside = false;
  for (ipp_attribute_t* one = ippFirstAttribute(response); one; one = ippNextAttribute(response)) {
    if (ippGetGroupTag(one) != IPP_TAG_JOB || !ippGetName(one)) {
      inside = false;  // groups are told apart by a nameless attribute between them
      continue;
    }
    if (!inside) jobs.emplace_back();
    inside = true;
    take(one, jobs.back());
  }
  return jobs;
}

Answer<std::vector<Job>> list(const std::string& uri, const char* which, const Patience& patience) {
  Ipp request = new_request(IPP_OP_GET_JOBS, uri);
  ippAddString(request.get(), IPP_TAG_OPERATION, IPP_TAG_KEYWORD, "which-jobs", nullptr, which);
  ask_for(request.get(), kJobAttributes);
  auto response = call(uri, std::move(request), {}, patience);
  if (response.has_error()) return response.error();
  return jobs_in(response->get());
}

}  // namespace

Answer<PrinterState> ask(const std::string& uri, const Patience& patience) {
  Ipp request = new_request(IPP_OP_GET_PRINTER_ATTRIBUTES, uri);
  ask_for(request.get(), std::array{"printer-state", "printer-state-reasons", "printer-is-accepting-jobs", "media-supported", "media-ready", "document-format-supported",
                                    "sides-supported", "print-scaling-supported", "job-priority-supported", "printer-info", "printer-name"});
  auto response = call(uri, std::move(request), {}, patience);
  if (response.has_error()) return response.error();
  ipp_t* told = response->get();
  PrinterState state;
  state.stopped = number_of(told, "printer-state") == IPP_PSTATE_STOPPED;
  if (ipp_attribute_t* accepting = ippFindAttribute(told, "printer-is-accepting-jobs", IPP_TAG_BOOLEAN)) state.accepting = ippGetBoolean(accepting, 0) != 0;
  state.reasons = reasons_of(told, "printer-state-reasons");
  state.media = words_of(told, "media-supported");
  state.media_ready = words_of(told, "media-ready");
  state.formats = words_of(told, "document-format-supported");
  state.one_sided = offers(told, "sides-supported", "one-sided");
  state.unscaled = offers(told, "print-scaling-supported", "none");
  state.priorities = number_of(told, "job-priority-supported").value_or(0) > 1;
  for (const char* attribute : {"printer-info", "printer-name"})
    if (const auto words = words_of(told, attribute); state.name.empty() && !words.empty()) state.name = words.front();
  return state;
}

Answer<int> submit(const std::string& uri, const Wish& wish, std::string_view pdf, const PrinterState& state, const Patience& patience) {
  Ipp request = new_request(IPP_OP_PRINT_JOB, uri);
  ipp_t* r = request.get();
  ippAddString(r, IPP_TAG_OPERATION, IPP_TAG_NAME, "job-name", nullptr, wish.name.c_str());
  ippAddString(r, IPP_TAG_OPERATION, IPP_TAG_MIMETYPE, "document-format", nullptr, "application/pdf");
  if (state.priorities) ippAddInteger(r, IPP_TAG_JOB, IPP_TAG_INTEGER, "job-priority", wish.first ? 100 : 50);
  ippAddString(r, IPP_TAG_JOB, IPP_TAG_KEYWORD, "media", nullptr, wish.media.c_str());
  if (state.one_sided) ippAddString(r, IPP_TAG_JOB, IPP_TAG_KEYWORD, "sides", nullptr, "one-sided");  // a second page must not hide on the back
  if (state.unscaled) ippAddString(r, IPP_TAG_JOB, IPP_TAG_KEYWORD, "print-scaling", nullptr, "none");
  auto response = call(uri, std::move(request), pdf, patience);
  if (response.has_error()) return response.error();
  const auto id = number_of(response->get(), "job-id");
  if (!id || *id <= 0) return Failure{Known::unknown, true, Trouble::other, "the printer took the job and gave it no number"};
  return static_cast<int>(*id);
}

Answer<Search> find(const std::string& uri, const std::string& job_name, const Patience& patience) {
  Ipp request = new_request(IPP_OP_GET_PRINTER_ATTRIBUTES, uri);
  ask_for(request.get(), std::array{"printer-up-time", "job-history-interval-configured"});
  Search search;
  for (const char* which : {"not-completed", "completed"}) {
    auto jobs = list(uri, which, patience);
    if (jobs.has_error()) return jobs.error();
    for (Job& job : *jobs) {
      if (job.name != job_name) search.others.push_back(std::move(job));
      else if (!search.job || search.job->id <= job.id) search.job = std::move(job);  // the later answer tells more of the same job
    }
  }
  auto clock = call(uri, std::move(request), {}, patience);
  if (clock.has_error()) return clock.error();
  search.up_seconds = number_of(clock->get(), "printer-up-time").value_or(0);
  search.keeps_seconds = number_of(clock->get(), "job-history-interval-configured");
  return search;
}

Answer<std::optional<Job>> look(const std::string& uri, int id, const Patience& patience) {
  Ipp request = new_request(IPP_OP_GET_JOB_ATTRIBUTES, uri, id);
  ask_for(request.get(), kJobAttributes);
  auto response = call(uri, std::move(request), {}, patience);
  if (response.has_error()) {
    if (is_not_found(response.error())) return std::optional<Job>();
    return response.error();
  }
  const auto jobs = jobs_in(response->get());
  if (jobs.empty()) return Failure{Known::unknown, true, Trouble::other, "the printer says nothing of the job"};
  return std::optional(jobs.front());
}

Answer<void> cancel(const std::string& uri, int job, const Patience& patience) {
  auto response = call(uri, new_request(IPP_OP_CANCEL_JOB, uri, job), {}, patience);
  if (response.has_error()) return response.error();
  return {};
}

}  // namespace print
