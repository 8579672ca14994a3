#include "sheet/say.h"

#include <algorithm>
#include <cctype>

#include "clinical/names.h"

namespace sheet {

std::string Say::text(std::string_view key, const words::Arguments& arguments) const { return in_.words.text("sheet." + std::string(key), arguments, in_.where); }
std::string Say::label(std::string_view key) const { return in_.words.label("sheet." + std::string(key)); }
std::string Say::term(std::string_view group, std::string_view name) const { return in_.words.term(std::string(group) + "." + std::string(name)); }

std::string Say::side(clinical::Side side) const { return label("side." + std::string(name_of(side))); }

std::string Say::which(const clinical::SitePlan& site) const {
  if (in_.plan.sites.size() < 2) return {};
  return side(site.side) + " " + term("vessel", name_of(site.vessel));
}

std::string Say::size(const clinical::SitePlan& site) const {
  const std::string vessel = site.vessel == clinical::Vessel::unknown ? label("vessel-unknown") : term("vessel", name_of(site.vessel));
  return joined(site.french ? text("size", {{"french", std::int64_t{*site.french}}}) : label("size-unknown"), ", ", vessel);
}

std::string Say::step(const clinical::Milestone& m) const { return capital(term("step", name_of(m.step))); }

std::string capital(std::string text) {
  if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  return text;
}

std::string joined(std::string a, std::string_view between, const std::string& b) {
  if (!a.empty() && !b.empty()) a += between;
  return a + b;
}

const clinical::Milestone* find_step(const clinical::SitePlan& site, clinical::Step step) {
  const auto found = std::ranges::find(site.milestones, step, &clinical::Milestone::step);
  return found == site.milestones.end() ? nullptr : &*found;
}

}  // namespace sheet
