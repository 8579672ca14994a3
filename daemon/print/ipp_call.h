// One IPP request and its answer over libcups, with what is known after a failure.
#pragma once

#include <cups/cups.h>

#include <memory>
#include <string>
#include <string_view>

#include "print/printer.h"

namespace print {

struct DeleteIpp {
  void operator()(ipp_t* ipp) const { ippDelete(ipp); }
};
using Ipp = std::unique_ptr<ipp_t, DeleteIpp>;

/// A request with charset, language, printer-uri and requesting-user-name; job > 0: also job-id.
Ipp new_request(ipp_op_t operation, const std::string& uri, int job = 0);

/// Sends it, with a document behind it where there is one, and waits. An answer with a status of 0x0400 and over is a Failure that was answered.
Answer<Ipp> call(const std::string& uri, Ipp request, std::string_view document, const Patience&);

/// Status of the last answer on this thread was "no such job".
bool is_not_found(const Failure&);

std::vector<std::string> words_of(ipp_t* response, const char* attribute);

}  // namespace print
