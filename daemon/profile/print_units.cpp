#include "profile/print_units.h"

#include <fmt/format.h>

#include <algorithm>

#include "profile/address.h"

namespace profile {
namespace {

using tables::Kind;

void name_by_host(const std::string& uri, std::string& name) {
  if (!name.empty() || uri.empty()) return;
  const auto parts = parse_print_uri(uri);
  name = parts ? parts->host : uri;
}

void name_by_host(Configuration::Queue& queue) {
  name_by_host(queue.uri, queue.name);
  name_by_host(queue.second_uri, queue.second_name);
}

std::string text_in(const Section& unit, std::string_view member) { return unit.table().find(member) ? unit.need_text(member) : std::string(); }

}  // namespace

std::pair<std::string, std::string> judge_queue(const std::string& uri, bool unencrypted_allowed) {
  if (uri.empty()) return {};
  const auto parts = parse_print_uri(uri);
  if (!parts) return {"no print queue", "write ipps://host/path, as ipps://printer.ward.example/ipp/print"};
  if (!parts->encrypted && !unencrypted_allowed && !is_loopback(parts->host))
    return {"unencrypted to another machine", "use ipps, or say that names may be read in the network: print.unencrypted = \"yes\""};
  return {};
}

std::string PrintUnits::queue_in(const Section& unit, std::string_view member) {
  const std::string uri = text_in(unit, member);
  if (const auto [what, remedy] = judge_queue(uri, into_.unencrypted == "yes"); !what.empty())
    faults_.add(unit.table().find(member)->at, fmt::format("'print.unit.{}' is \"{}\", {}", member, uri, what), remedy);
  return uri;
}

void PrintUnits::read_unit(const Item& item) {
  if (!item.is_table()) return faults_.add(item.at, fmt::format("'print.unit' holds {}", tables::name_of(item.kind)), "write [[print.unit]] and its keys below");
  const Section unit(item, "print.unit", faults_);
  unit.allow_only({"location", "queue", "name", "second_queue", "second_name"});
  Configuration::Print::Unit read;
  read.location = unit.need_text("location");
  if (!read.location.empty() && !read.location.starts_with("Location/"))
    faults_.add(item.find("location")->at, fmt::format("'print.unit.location' is \"{}\", no place", read.location), "write Location/id of the unit in the record");
  if (std::ranges::any_of(into_.units, [&](const auto& one) { return one.location == read.location; }))
    faults_.add(item.key_at, fmt::format("\"{}\" has two printers", read.location), "keep one [[print.unit]] for each place");
  read.queue.uri = queue_in(unit, "queue");
  read.queue.second_uri = queue_in(unit, "second_queue");
  read.queue.name = text_in(unit, "name");
  read.queue.second_name = text_in(unit, "second_name");
  name_by_host(read.queue);
  if (read.queue.uri.empty() && !read.queue.second_uri.empty()) faults_.add(item.key_at, "a second queue without a first", "add queue");
  into_.units.push_back(std::move(read));
}

void PrintUnits::read() {
  name_by_host(into_.facility);
  if (!print_.find("queue") && !into_.facility.second_uri.empty()) faults_.add(print_.key_at, "a second queue without a first", "add print.queue");
  const Item* units = print_.find("unit");
  if (!units) {
    if (!print_.find("queue")) faults_.add(print_.key_at, "[print] names no printer", "add queue, or a [[print.unit]] with one; or take [print] out");
    return;
  }
  if (units->kind != Kind::array) return faults_.add(units->key_at, fmt::format("'print.unit' is {}", tables::name_of(units->kind)), "write [[print.unit]]");
  for (const Item& unit : units->items) read_unit(unit);
}

}  // namespace profile
