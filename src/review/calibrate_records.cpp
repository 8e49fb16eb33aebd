#include "review/calibrate_records.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "ringquell/impedance_file.h"

namespace ringquell::internal {

namespace {

/// Neighbouring points of an analyser share their errors: so many a decade stand for all.
constexpr double points_a_decade = 10;

/// Errors of a ring: the record's own and the model's, in squares.
RingData with_errors(CalibratedRecord& r, const ModelError& model) {
    RingData out{r.frequency_hz, r.damping_ratio, 0, 0};
    const double damping = std::max(model.damping * std::abs(r.damping_ratio), model.damping_at_least);
    const bool no_damping_error = model.damping == 0;
    out.log_frequency_error = std::hypot(r.frequency_error_hz / r.frequency_hz, model.frequency);
    out.damping_error = std::hypot(r.damping_error, no_damping_error ? 0 : damping);
    if (out.log_frequency_error == 0 || out.damping_error == 0)
        throw InputError(
            r.record.place, r.record.key,
            "has no error, and `model_error` is 0; expected `frequency_error` and `damping_error`");
    r.frequency_counted_hz = out.log_frequency_error * r.frequency_hz;
    r.damping_counted = out.damping_error;
    return out;
}

RingData fitted_ring(const BenchFile& bench, CalibratedRecord& r) {
    RingFitOptions options;
    options.from_s = r.record.from_s;
    options.to_s = r.record.to_s;
    options.place = r.record.place;
    r.fit = fit_ring(read_waveform(r.record.file, r.record.time_column, r.record.value_column), options);
    const FittedRing* ring = &r.fit->rings.front();
    // Where frequency and damping stand still only later, from there on.
    if (r.fit->steady && r.fit->steady->first > r.fit->from_s)
        for (const RingStart& start : r.fit->starts)
            if (start.from_s == r.fit->steady->first) ring = &start.ring;
    r.frequency_hz = ring->frequency_hz;
    r.frequency_error_hz = ring->frequency_error_hz;
    r.damping_ratio = ring->damping_ratio;
    r.damping_error = ring->damping_error;
    return with_errors(r, bench.model_error);
}

PortData read_port(CalibratedRecord& r) {
    const BenchRecord& record = r.record;
    PortData out;
    out.error = record.error;
    double last = 0;
    const double ratio = std::pow(10, 1 / points_a_decade);
    const double low = record.from_hz.value_or(0), high = record.to_hz.value_or(INFINITY);
    for (const ImpedancePoint& p : read_impedance_file(record.file)) {
        if (p.frequency_hz < low || p.frequency_hz > high || p.frequency_hz <= 0 ||
            p.frequency_hz < last * ratio)
            continue;
        last = p.frequency_hz;
        out.frequency_hz.push_back(p.frequency_hz);
        out.impedance_ohm.push_back(p.impedance_ohm);
        r.impedance.push_back({p.frequency_hz, p.impedance_ohm, {}, {}});
    }
    if (out.frequency_hz.empty())
        throw InputError(record.place, record.key + ".impedance",
                         fmt::format("`{}` has no point in the range asked for", record.file));
    r.points = out.frequency_hz.size();
    return out;
}

}  // namespace

std::vector<ModeBesideRing> beside(const std::vector<SeenMode>& modes, const RingData& ring) {
    double greatest_view = 0;
    for (const SeenMode& m : modes) greatest_view = std::max(greatest_view, m.view);
    std::vector<ModeBesideRing> out;
    out.reserve(modes.size());
    for (const SeenMode& m : modes) {
        ModeBesideRing one;
        one.mode = m.mode();
        one.view = greatest_view > 0 ? m.view / greatest_view : 1;
        one.frequency_off =
            std::log(one.mode.ringing_frequency_hz() / ring.frequency_hz) / ring.log_frequency_error;
        one.damping_off = (one.mode.damping_ratio() - ring.damping_ratio) / ring.damping_error;
        out.push_back(one);
    }
    return out;
}

ReadRecords read_records(const BenchFile& bench) {
    ReadRecords out;
    for (const BenchRecord& record : bench.records) {
        CalibratedRecord r;
        r.record = record;
        RecordTarget target;
        target.record = record;
        for (const Probe& probe : bench.probes)
            if (probe.name == record.probe) target.probe = probe;
        if (record.kind == BenchRecord::Kind::impedance) {
            target.data = read_port(r);
        } else if (record.kind == BenchRecord::Kind::waveform) {
            target.data = fitted_ring(bench, r);
        } else {
            r.frequency_hz = record.frequency_hz;
            r.frequency_error_hz = record.frequency_error_hz;
            r.damping_ratio = record.damping_ratio;
            r.damping_error = record.damping_error;
            target.data = with_errors(r, bench.model_error);
        }
        out.said.push_back(std::move(r));
        out.targets.push_back(std::move(target));
    }
    return out;
}

}  // namespace ringquell::internal
