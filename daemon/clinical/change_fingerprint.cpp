#include "clinical/change_fingerprint.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "clinical/names.h"

namespace clinical {
namespace {

// Adds one argument; the alternatives never look alike because the index goes first.
void add_argument(Digest& digest, const Argument& argument) {
  digest.add(static_cast<std::int64_t>(argument.index()));
  std::visit(
      [&](const auto& value) {
        using T = std::decay_t<decltype(value)>;
        if constexpr (std::is_same_v<T, seconds>) digest.add(std::int64_t{value.count()});
        else if constexpr (std::is_same_v<T, Value>) digest.add(value.micro).add(static_cast<std::int64_t>(value.comparator)).add(value.written);
        else if constexpr (std::is_same_v<T, Moment>) digest.add(value.earliest).add(value.latest);
        else digest.add(value);
      },
      argument);
}

void add_site(Digest& digest, const SitePlan& site) {
  digest.add(site.key).add(name_of(site.side)).add(name_of(site.vessel)).add(std::int64_t{site.french.value_or(-1)}).add(name_of(site.closure));
  digest.add(site.sheath_out).add(site.compression_started).add(site.t0).add(std::int64_t{site.high_watch}).add(site.baseline_pulses);
}

void add_gate(Digest& digest, const Gate& gate) {
  digest.add(name_of(gate.name)).add(name_of(gate.state)).add(gate.opens_at).add(gate.expires_at).add(gate.since).add(gate.clock_ends);
  for (const auto& fact : gate.needs) digest.add(name_of(fact));
  digest.add(gate.value_seen).add(gate.why);
  for (const auto& input : gate.inputs) digest.add(input);
}

void add_times(Digest& digest, const Milestone& m) {
  digest.add(name_of(m.step)).add(std::int64_t{m.ordinal}).add(m.earliest).add(m.expected).add(m.latest).add(m.actual).add(m.planned).add(m.after_t0);
}

void add_milestone(Digest& digest, const Milestone& m) {
  add_times(digest, m);
  digest.add(name_of(m.status)).add(std::int64_t{m.released}).add(std::int64_t{m.late}).add(m.why);
  for (const auto& basis : m.basis) digest.add(basis.rule).add(basis.arithmetic);
}

void add_open_points(Digest& digest, const CasePlan& plan) {
  for (const auto& missing : plan.missing) {
    digest.add(name_of(missing.fact)).add(name_of(missing.asked_of)).add(missing.site);
    if (!missing.about.empty()) digest.add(missing.about);
    for (const auto& step : missing.blocks) digest.add(name_of(step));
  }
  for (const auto& conflict : plan.conflicts) {
    digest.add(name_of(conflict.fact)).add(conflict.about).add(conflict.site);
    for (const auto& value : conflict.values) digest.add(value);
  }
}

void add_alerts(Digest& digest, const CasePlan& plan) {
  for (const auto& alert : plan.alerts) digest.add(alert.episode).add(name_of(alert.level)).add(alert.why);
}

void add_person(Digest& digest, const CasePlan& plan) {
  const Patient& patient = plan.patient;
  digest.add(patient.source).add(patient.name).add(patient.birth_written).add(patient.record_number).add(plan.place).add(plan.encounter).add(plan.title);
}

// The paper shows times, not whether they have come; a check that was made is ticked on it and needs no new one.
void add_printed(Digest& digest, const Milestone& m) {
  if (m.step == Step::check_site) {
    digest.add(name_of(m.step)).add(std::int64_t{m.ordinal}).add(m.earliest);
    return;
  }
  add_times(digest, m);
  const bool open = m.status == StepStatus::expected || m.status == StepStatus::due;
  digest.add(open ? std::string_view("open") : name_of(m.status));
}

template <class Add>
std::string part(std::string_view name, Add&& add) {
  Digest digest;
  add(digest);
  return fmt::format("{}:{}", name, digest.hex());
}

template <class Add>
std::string part_of_sites(std::string_view name, const CasePlan& plan, Add&& add) {
  return part(name, [&](Digest& d) {
    for (const auto& site : plan.sites) {
      d.add(site.key);
      add(d, site);
    }
  });
}

std::vector<std::string_view> split(std::string_view text, char separator) {
  std::vector<std::string_view> parts;
  for (std::size_t from = 0; from <= text.size() && !text.empty();) {
    const auto end = std::min(text.find(separator, from), text.size());
    parts.push_back(text.substr(from, end - from));
    from = end + 1;
  }
  return parts;
}

}  // namespace

Digest& Digest::add(std::string_view text) {
  const auto step = [this](unsigned char byte) { state_ = (state_ ^ byte) * 1099511628211ULL; };
  for (const char c : text) step(static_cast<unsigned char>(c));
  step(0xff);  // occurs in no UTF-8 text
  return *this;
}
Digest& Digest::add(std::int64_t number) { return add(std::string_view(std::to_string(number))); }
Digest& Digest::add(Instant at) { return add(std::int64_t{at.time_since_epoch().count()}); }
Digest& Digest::add(const Source& source) { return add(source.reference); }
Digest& Digest::add(const Reason& reason) {
  add(reason.code);
  for (const auto& [name, argument] : reason.arguments) {
    add(name);
    add_argument(*this, argument);
  }
  return *this;
}
std::string Digest::hex() const { return fmt::format("{:016x}", state_); }

std::string_view content_of(std::string_view fingerprint) { return fingerprint.substr(0, fingerprint.find(';')); }

std::string task_content(std::optional<Instant> start, const Digest& rest) {
  return start ? fmt::format("{}/{}", start->time_since_epoch().count(), rest.hex()) : "-/" + rest.hex();
}

std::optional<Instant> start_of(std::string_view fingerprint) {
  std::int64_t count = 0;
  const auto [end, error] = std::from_chars(fingerprint.data(), fingerprint.data() + fingerprint.size(), count);
  if (error != std::errc{} || end == fingerprint.data() + fingerprint.size() || *end != '/') return std::nullopt;
  return Instant{seconds{count}};
}

std::string sheet_fingerprint(const CasePlan& plan) {
  const std::string parts[] = {
      part_of_sites("side", plan, [](Digest& d, const SitePlan& s) { d.add(name_of(s.side)).add(name_of(s.vessel)); }),
      part_of_sites("size", plan, [](Digest& d, const SitePlan& s) { d.add(std::int64_t{s.french.value_or(-1)}); }),
      part_of_sites("closure", plan, [](Digest& d, const SitePlan& s) { d.add(name_of(s.closure)); }),
      part_of_sites("t0", plan, [](Digest& d, const SitePlan& s) {
        d.add(s.t0);
        for (const Instant at : s.rebleeds) d.add(at);
      }),
      part("conflict", [&](Digest& d) {
        for (const auto& c : plan.conflicts) d.add(name_of(c.fact)).add(c.about).add(c.site);
      }),
      part_of_sites("milestone", plan, [](Digest& d, const SitePlan& s) {
        for (const auto& m : s.milestones) add_printed(d, m);
      }),
      part_of_sites("gate", plan, [](Digest& d, const SitePlan& s) {
        for (const auto& g : s.gates) d.add(name_of(g.name)).add(name_of(g.state));
      }),
      part("missing", [&](Digest& d) {
        for (const auto& m : plan.missing) {
          d.add(name_of(m.fact)).add(m.site);
          if (!m.about.empty()) d.add(m.about);
        }
      }),
      part("caution", [&](Digest& d) {
        d.add(name_of(plan.state)).add(std::int64_t{plan.provisional});
        for (const auto& s : plan.sites) {
          d.add(std::int64_t{s.high_watch});
          for (const auto& why : s.watched_for) d.add(why);
        }
        for (const auto& caution : plan.cautions) d.add(caution);
        add_alerts(d, plan);
      }),
      part("person", [&](Digest& d) { add_person(d, plan); }),
      part("validity", [&](Digest& d) { d.add(plan.valid_until); })};
  return fmt::format("{}", fmt::join(parts, ","));
}

std::vector<std::string> sheet_causes(std::string_view before, std::string_view after) {
  const auto old_parts = split(before, ',');
  std::vector<std::string> causes;
  for (const auto& now : split(after, ','))
    if (std::ranges::find(old_parts, now) == old_parts.end()) causes.emplace_back(now.substr(0, now.find(':')));
  return causes;
}

std::string care_plan_fingerprint(const CasePlan& plan, const std::string& protocol_hash) {
  Digest d;
  d.add(protocol_hash).add(plan.procedure).add(name_of(plan.state)).add(std::int64_t{plan.provisional});
  d.add(plan.valid_until).add(plan.up_at).add(plan.started);
  add_person(d, plan);
  for (const auto& site : plan.sites) {
    add_site(d, site);
    for (const auto& gate : site.gates) add_gate(d, gate);
    for (const auto& milestone : site.milestones) add_milestone(d, milestone);
    if (site.projection) d.add(site.projection->p10).add(site.projection->p50).add(site.projection->p90).add(site.projection->next_draw);
  }
  for (const auto& row : plan.agents) d.add(name_of(row.agent)).add(row.last_given).add(std::int64_t{row.running}).add(row.half_life);
  add_open_points(d, plan);
  add_alerts(d, plan);
  return d.hex();
}

std::string guidance_fingerprint(const CasePlan& plan) {
  Digest d;
  d.add(name_of(plan.state)).add(plan.encounter);
  add_open_points(d, plan);
  for (const auto& site : plan.sites)
    for (const auto& gate : site.gates)
      if (gate.state == GateState::ask) d.add(site.key).add(name_of(gate.name)).add(gate.why);
  return d.hex();
}

}  // namespace clinical
