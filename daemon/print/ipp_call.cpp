#include "print/ipp_call.h"

#include <array>
#include <cmath>
#include <stdexcept>

namespace print {
namespace {

struct CloseHttp {
  void operator()(http_t* http) const { httpClose(http); }
};
using Http = std::unique_ptr<http_t, CloseHttp>;

struct Target {
  std::string host, resource;
  int port = 0;
  bool encrypted = false;
};

/// A definite no before anything was queued: HTTP 4xx, and what libcups makes of a password or a certificate that is not there.
bool is_refusal(http_status_t status) {
  return (status >= HTTP_STATUS_BAD_REQUEST && status < HTTP_STATUS_SERVER_ERROR) || status >= HTTP_STATUS_CUPS_AUTHORIZATION_CANCELED;
}

constexpr const char* kNotFound = "client-error-not-found";

std::optional<Target> target_of(const std::string& uri) {
  std::array<char, 32> scheme{};
  std::array<char, 256> user{}, host{};
  std::array<char, 1024> resource{};
  int port = 0;
  const auto size = [](const auto& text) { return static_cast<int>(text.size()); };
  const auto status = httpSeparateURI(HTTP_URI_CODING_ALL, uri.c_str(), scheme.data(), size(scheme), user.data(), size(user), host.data(), size(host), &port,
                                      resource.data(), size(resource));
  const std::string kind = scheme.data();
  if (status < HTTP_URI_STATUS_OK || (kind != "ipp" && kind != "ipps")) return std::nullopt;
  return Target{host.data(), resource.data(), port, kind == "ipps"};
}

// A printer that asks for a password gets none, and nobody is asked at a terminal.
const char* no_password(const char*, http_t*, const char*, const char*, void*) { return nullptr; }
int give_up(http_t*, void*) { return 0; }

Failure silent(Known known, std::string text) { return {known, false, Trouble::no_answer, std::move(text)}; }

Answer<Ipp> refused(http_status_t status) {
  return Failure{Known::not_sent, true, Trouble::refuses, std::string("the printer answered HTTP ") + httpStatus(status)};
}

Answer<Ipp> judge(Ipp response) {
  const ipp_status_t status = ippGetStatusCode(response.get());
  if (status < IPP_STATUS_ERROR_BAD_REQUEST) return response;
  std::string text = ippErrorString(status);
  if (ipp_attribute_t* said = ippFindAttribute(response.get(), "status-message", IPP_TAG_TEXT)) text += std::string(": ") + ippGetString(said, 0, nullptr);
  const bool paper = status == IPP_STATUS_ERROR_ATTRIBUTES_OR_VALUES && ippFindAttribute(response.get(), "media", IPP_TAG_ZERO);
  return Failure{Known::not_sent, true, paper ? Trouble::wrong_paper : Trouble::refuses, std::move(text)};
}

// Print-Job may have begun to have an effect as soon as the connection stands; every other operation has none on paper.
Answer<Ipp> exchange(http_t* http, const Target& target, ipp_t* request, std::string_view document) {
  const std::size_t length = ippLength(request) + document.size();
  http_status_t status = cupsSendRequest(http, request, target.resource.c_str(), length);
  for (std::size_t at = 0; status == HTTP_STATUS_CONTINUE && at < document.size();) {
    const auto part = document.substr(at, 16384);
    status = cupsWriteRequestData(http, part.data(), part.size());
    at += part.size();
  }
  if (is_refusal(status)) return refused(status);
  if (status != HTTP_STATUS_CONTINUE && status != HTTP_STATUS_OK) return silent(Known::unknown, "the connection broke while the request was sent");
  Ipp response(cupsGetResponse(http, target.resource.c_str()));
  if (response) return judge(std::move(response));
  status = httpGetStatus(http);
  if (is_refusal(status)) return refused(status);
  return silent(Known::unknown, "no answer came");
}

}  // namespace

void throw_exception_from_error(const Failure& failure, const boost::source_location&) { throw std::logic_error(failure.text); }

Ipp new_request(ipp_op_t operation, const std::string& uri, int job) {
  Ipp request(ippNewRequest(operation));  // with charset and language
  ippAddString(request.get(), IPP_TAG_OPERATION, IPP_TAG_URI, "printer-uri", nullptr, uri.c_str());
  if (job > 0) ippAddInteger(request.get(), IPP_TAG_OPERATION, IPP_TAG_INTEGER, "job-id", job);
  ippAddString(request.get(), IPP_TAG_OPERATION, IPP_TAG_NAME, "requesting-user-name", nullptr, "aftersheath");
  return request;
}

Answer<Ipp> call(const std::string& uri, Ipp request, std::string_view document, const Patience& patience) {
  const auto target = target_of(uri);
  if (!target) return Failure{Known::not_sent, false, Trouble::other, uri + " is no address of a print queue (ipp://host/path)"};
  cupsSetPasswordCB2(no_password, nullptr);  // of this thread
  const auto encryption = target->encrypted ? HTTP_ENCRYPTION_ALWAYS : HTTP_ENCRYPTION_IF_REQUESTED;
  const Http http(httpConnect2(target->host.c_str(), target->port, nullptr, AF_UNSPEC, encryption, 1, static_cast<int>(patience.connect.count()), nullptr));
  if (!http) return silent(Known::not_sent, std::string("not reached: ") + cupsLastErrorString());
  httpSetTimeout(http.get(), std::chrono::duration<double>(patience.answer).count(), give_up, nullptr);
  return exchange(http.get(), *target, request.get(), document);
}

bool is_not_found(const Failure& failure) { return failure.answered && failure.text.starts_with(kNotFound); }

std::vector<std::string> words_of(ipp_t* response, const char* attribute) {
  std::vector<std::string> words;
  ipp_attribute_t* found = ippFindAttribute(response, attribute, IPP_TAG_ZERO);
  const ipp_tag_t tag = found ? ippGetValueTag(found) : IPP_TAG_NOVALUE;
  if (tag < IPP_TAG_TEXTLANG || tag > IPP_TAG_MIMETYPE) return words;  // no-value, unknown
  for (int i = 0; i < ippGetCount(found); ++i)
    if (const char* word = ippGetString(found, i, nullptr)) words.emplace_back(word);
  return words;
}

}  // namespace print
