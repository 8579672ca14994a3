#include "profile/site_units.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace profile {
namespace {

// Who may own a Task (Task.owner, R4 and R5).
constexpr std::array<std::string_view, 7> kOwners{"CareTeam/", "Device/", "HealthcareService/", "Organization/", "Practitioner/", "PractitionerRole/", "RelatedPerson/"};

void read_unit(const Item& item, Configuration::Site& into, Faults& faults) {
  if (!item.is_table()) return faults.add(item.at, fmt::format("'site.unit' holds {}", tables::name_of(item.kind)), "write [[site.unit]] and its keys below");
  const Section unit(item, "site.unit", faults);
  unit.allow_only({"location", "owner", "owner_name"});
  Configuration::Site::Unit read;
  read.location = unit.need_text("location");
  read.owner = unit.need_text("owner");
  if (item.find("owner_name")) read.owner_name = unit.need_text("owner_name");
  if (!read.location.empty() && !read.location.starts_with("Location/"))
    faults.add(item.find("location")->at, fmt::format("'site.unit.location' is \"{}\", no place", read.location), "write Location/id of the unit in the record");
  if (!read.owner.empty() && std::ranges::none_of(kOwners, [&](std::string_view type) { return read.owner.starts_with(type); }))
    faults.add(item.find("owner")->at, fmt::format("'site.unit.owner' is \"{}\", nobody who can own a Task", read.owner), "write Organization/id of the unit, or the CareTeam or HealthcareService that works there");
  if (std::ranges::any_of(into.units, [&](const auto& one) { return one.location == read.location; }))
    faults.add(item.key_at, fmt::format("\"{}\" has two owners", read.location), "keep one [[site.unit]] for each place");
  into.units.push_back(std::move(read));
}

}  // namespace

void read_site_units(const Item& site, Configuration::Site& into, Faults& faults) {
  const Item* units = site.find("unit");
  if (!units) return;
  if (units->kind != tables::Kind::array) return faults.add(units->key_at, fmt::format("'site.unit' is {}", tables::name_of(units->kind)), "write [[site.unit]]");
  for (const Item& unit : units->items) read_unit(unit, into, faults);
}

}  // namespace profile
