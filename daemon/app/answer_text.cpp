#include "app/answer_text.h"

#include <fmt/format.h>

#include <algorithm>

#include "json/tree.h"
#include "transport/masked.h"

namespace app {
namespace {

constexpr std::string_view kBeyond = " | It said: ";
constexpr std::size_t kIssues = 3, kWords = 120, kFree = 300;

/// "invalid at Task.owner (Unknown reference)".
std::string issue_text(const json::Value& issue) {
  std::string text(issue["code"].text().empty() ? "no code" : issue["code"].text());
  for (const char* place : {"expression", "location"})
    if (issue[place].size() > 0) {
      text += " at " + transport::masked(issue[place].at(0).text(), kWords);
      break;
    }
  const auto& details = issue["details"];
  std::string_view words = details["coding"].at(0)["display"].text();
  if (words.empty()) words = details["coding"].at(0)["code"].text();
  if (!words.empty()) text += " (" + transport::masked(words, kWords) + ")";
  return text;
}

std::string free_text(const json::Value& outcome) {
  std::string all;
  for (const auto& issue : outcome["issue"].items())
    for (const auto text : {issue["details"]["text"].text(), issue["diagnostics"].text()})
      if (!text.empty()) all += (all.empty() ? "" : "; ") + std::string(text.substr(0, kFree));
  return all;
}

}  // namespace

std::string said_by_record(const transport::Response& response) {
  std::string text = fmt::format("the record answered {}", response.status);
  const auto body = json::parse(response.body);
  if (body.has_error() || (*body)["resourceType"].text() != "OperationOutcome") {
    if (response.body.empty()) return text + " and nothing else";
    const auto type = response.headers.get("Content-Type").value_or("no type");
    return fmt::format("{} and no OperationOutcome ({} bytes of {}){}{}", text, response.body.size(), transport::masked(type, kWords), kBeyond, transport::masked(response.body, kFree));
  }
  const auto& issues = (*body)["issue"];
  for (std::size_t n = 0; n < std::min(issues.size(), kIssues); ++n) text += (n == 0 ? ": " : ", ") + issue_text(issues.at(n));
  if (issues.size() > kIssues) text += fmt::format(" and {} more", issues.size() - kIssues);
  const std::string more = free_text(*body);
  return more.empty() ? text : text + std::string(kBeyond) + transport::masked(more, kFree);
}

std::string for_log(const std::string& said) { return said.substr(0, said.find(kBeyond)); }

}  // namespace app
