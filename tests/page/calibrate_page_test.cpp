// The page of what records say of a case. What a browser makes of it is in calibrate_test.mjs.
#include <doctest/doctest.h>

#include <cmath>
#include <complex>
#include <nlohmann/json.hpp>
#include <string>

#include "ringquell/bench_file.h"
#include "ringquell/impedance_file.h"
#include "ringquell/page.h"
#include "ringquell/write_case.h"
#include "support/files.h"
#include "support/relative.h"

using namespace ringquell;
using test_files::cases;

namespace {

constexpr double seven_digits = 1e-6;

nlohmann::json data_of(const std::string& html) {
    const std::string start = "<script type=\"application/json\" id=\"ringquell-calibration\">";
    const size_t begin = html.find(start);
    REQUIRE(begin != std::string::npos);
    return nlohmann::json::parse(
        html.substr(begin + start.size(), html.find("</script>", begin) - begin - start.size()));
}

struct Made {
    BenchFile bench;
    Calibration found;
    std::string html;
};

Made made_of(BenchFile bench) {
    Made out;
    out.bench = std::move(bench);
    CalibrateOptions options;
    options.next = false;
    out.found = calibrate(out.bench.input, out.bench, options);
    out.html = make_calibrate_page(out.bench.input, out.found, "2026-01-02 03:04 UTC");
    return out;
}

/// Made once.
const Made& demonstrated() {
    static const Made made = made_of(read_bench(cases + "bench/ropeway-first.yaml"));
    return made;
}

/// The short form: one ring at a point of the case's path.
BenchFile one_ring(double frequency_hz, double damping_ratio) {
    BenchFile out;
    out.file = out.case_file = cases + "ropeway-first.yaml";
    out.input = test_files::demonstration("ropeway-first");
    BenchRecord ring;
    ring.name = "ring";
    ring.kind = BenchRecord::Kind::ring;
    ring.frequency_hz = frequency_hz;
    ring.damping_ratio = damping_ratio;
    ring.point = "turn_on current 1";
    out.records.push_back(std::move(ring));
    return out;
}

void check_curve(const nlohmann::json& shown, const std::vector<double>& values) {
    REQUIRE(shown.size() == values.size());
    for (size_t k = 0; k < values.size(); ++k)
        CHECK_RELATIVE(shown[k].get<double>(), values[k], seven_digits);
}

void check_impedance(const nlohmann::json& record, const CalibratedRecord& said) {
    const nlohmann::json& shown = record.at("impedance");
    REQUIRE(said.impedance.size() == said.points);
    REQUIRE(shown.at("frequency_hz").size() == said.points);
    for (size_t k = 0; k < said.points; ++k) {
        const ImpedanceBeside& p = said.impedance[k];
        CHECK_RELATIVE(shown.at("frequency_hz")[k].get<double>(), p.frequency_hz, seven_digits);
        for (const auto& [name, value] :
             {std::pair{"measured", p.measured_ohm}, std::pair{"before", p.before_ohm},
              std::pair{"after", p.after_ohm}}) {
            const std::complex<double> z(shown.at(name).at("resistance_ohm")[k].get<double>(),
                                         shown.at(name).at("reactance_ohm")[k].get<double>());
            INFO(name);
            CHECK_RELATIVE(z, value, seven_digits);
        }
    }
}

/// Root mean square of real and imaginary part of what is missed, in errors.
double missed(const CalibratedRecord& r, std::complex<double> ImpedanceBeside::*which) {
    double sum = 0;
    for (const ImpedanceBeside& p : r.impedance)
        sum += std::norm((p.*which - p.measured_ohm) / (r.record.error * std::abs(p.measured_ohm)));
    return std::sqrt(sum / (2 * static_cast<double>(r.impedance.size())));
}

}  // namespace

TEST_CASE("calibrate page: its numbers are those of the result") {
    const Made& made = demonstrated();
    const auto data = data_of(made.html);
    CHECK(data["calibration"] == 1);
    CHECK(data["case"]["text"] == write_case(made.bench.input));
    CHECK(data["case"]["hash"] == text_hash(write_case(made.bench.input)));
    CHECK(data["calibrated"] == write_case(made.found.calibrated));
    CHECK(data["requirement"]["differential_damping"] == made.found.damping_asked);
    const auto& told = data["calibrate"];
    CHECK(told["explained"] == true);
    REQUIRE(told["records"].size() == made.found.records.size());
    for (size_t k = 0; k < made.found.records.size(); ++k) {
        const CalibratedRecord& said = made.found.records[k];
        const auto& record = told["records"][k];
        INFO(said.record.name);
        CHECK(record["name"] == said.record.name);
        if (said.record.kind == BenchRecord::Kind::impedance) {
            check_impedance(record, said);
            continue;
        }
        CHECK_RELATIVE(record["frequency_hz"].get<double>(), said.frequency_hz, seven_digits);
        CHECK_RELATIVE(record["damping_ratio"].get<double>(), said.damping_ratio, seven_digits);
        CHECK_RELATIVE(record["frequency_counted_hz"].get<double>(), said.frequency_counted_hz, seven_digits);
        CHECK_RELATIVE(record["damping_counted"].get<double>(), said.damping_counted, seven_digits);
        REQUIRE(record["modes"].size() == said.modes.size());
        for (size_t m = 0; m < said.modes.size(); ++m)
            CHECK_RELATIVE(record["modes"][m]["damping_ratio"].get<double>(),
                           said.modes[m].mode.damping_ratio(), seven_digits);
        CHECK_RELATIVE(record["mode_after"]["ringing_frequency_hz"].get<double>(),
                       said.after->mode.ringing_frequency_hz(), seven_digits);
        if (!said.fit) continue;
        check_curve(record["fit"]["shown"]["time_s"], said.fit->shown_time_s);
        check_curve(record["fit"]["shown"]["value"], said.fit->shown_value);
        check_curve(record["fit"]["shown"]["fit"], said.fit->shown_fit);
    }
    REQUIRE(told["unknowns"].size() == made.found.unknowns.size());
    for (size_t k = 0; k < made.found.unknowns.size(); ++k)
        CHECK_RELATIVE(told["unknowns"][k]["after"].get<double>(), made.found.unknowns[k].after,
                       seven_digits);
}

TEST_CASE("calibrate: an impedance's points are the file's, and miss it by what is said") {
    const CalibratedRecord& r = demonstrated().found.records[0];
    REQUIRE(r.record.kind == BenchRecord::Kind::impedance);
    const std::vector<ImpedancePoint> file = read_impedance_file(r.record.file);
    for (const ImpedanceBeside& p : r.impedance) {
        size_t found = 0;
        for (const ImpedancePoint& q : file)
            if (q.frequency_hz == p.frequency_hz && q.impedance_ohm == p.measured_ohm) ++found;
        CHECK(found == 1);
    }
    CHECK_RELATIVE(missed(r, &ImpedanceBeside::before_ohm), r.off_before, 1e-9);
    CHECK_RELATIVE(missed(r, &ImpedanceBeside::after_ohm), r.off_after, 1e-9);
    CHECK(r.off_after < r.off_before);
}

TEST_CASE("calibrate: the error that a ring is counted with is its own and the model's, in squares") {
    const Made& made = demonstrated();
    for (const size_t k : {size_t{1}, size_t{2}}) {
        const CalibratedRecord& r = made.found.records[k];
        const ModelError& model = made.bench.model_error;
        CHECK_RELATIVE(
            r.frequency_counted_hz,
            std::sqrt(std::pow(r.frequency_error_hz, 2) + std::pow(model.frequency * r.frequency_hz, 2)),
            1e-12);
        const double damping = std::max(model.damping * r.damping_ratio, model.damping_at_least);
        CHECK_RELATIVE(r.damping_counted, std::sqrt(std::pow(r.damping_error, 2) + std::pow(damping, 2)),
                       1e-12);
    }
}

TEST_CASE("calibrate page: it asks for nothing from outside and names no file that its reader lacks") {
    const std::string& html = demonstrated().html;
    CHECK(html.find("default-src 'none'") != std::string::npos);
    CHECK(html.find("A DC link kills.") != std::string::npos);
    CHECK(html.find("<caption>Sign-off</caption>") != std::string::npos);
    const std::string own = html.substr(0, html.find("Chart.js"));
    for (const char* loads : {" src=", "href=\"http", "url(", "@import"})
        CHECK(own.find(loads) == std::string::npos);
    for (const std::string& file : {cases, std::string("../"), std::string(".csv"), std::string(".s1p")})
        CHECK(own.find(file) == std::string::npos);
    CHECK(own.find("<dt>Bench file</dt><dd>ropeway-first.yaml</dd>") != std::string::npos);
    // It is no page of a review.
    try {
        read_page(html, "x.html");
        FAIL("read");
    } catch (const InputError& error) {
        CHECK(std::string(error.what()) ==
              "x.html: found no data of this command; expected a page that `ringquell report` has written");
    }
}

TEST_CASE("calibrate page: the verdict stands first, as the text has it") {
    CHECK(demonstrated().html.find("<p class=\"verdict pass\"><span class=\"sign\" "
                                   "aria-hidden=\"true\">&#10003;</span> <strong>EXPLAINED</strong>: "
                                   "<span>ropeway brake inverter, as first laid out; all records fit within "
                                   "the tolerances</span></p>") != std::string::npos);
    const Made odd = made_of(one_ring(12e6, 0.033));
    CHECK(odd.html.find("<p class=\"verdict fail\"><span class=\"sign\" "
                        "aria-hidden=\"true\">&#10007;</span> <strong>NOT EXPLAINED</strong>: "
                        "<span>ropeway brake inverter, as first laid out; nothing in this case rings like "
                        "&quot;ring&quot;</span></p>") != std::string::npos);
    CHECK(odd.html.find("<dt>Bench file</dt>") == std::string::npos);
    CHECK(odd.html.find("id=\"known-heading\">What is known before and after</h2>\n<p>Nothing is settled") !=
          std::string::npos);
    for (const char* absent : {"id=\"worst\"", "id=\"next\"", "class=\"known\""})
        CHECK(odd.html.find(absent) == std::string::npos);
    CHECK(data_of(odd.html)["calibrated"].is_null());
    CHECK(odd.html.find("id=\"wave-0\"") == std::string::npos);
    CHECK(odd.html.find("id=\"modes-0-plot\"") != std::string::npos);
    CHECK(odd.html.substr(0, odd.html.find("<script")).find("docs/") == std::string::npos);
}

TEST_CASE("calibrate page: where nothing is near, the nearest mode is shown and nothing is settled") {
    const Made far = made_of(one_ring(2e9, 0.02));
    REQUIRE(far.found.unknowns.empty());
    const auto data = data_of(far.html);
    CHECK(data["calibrated"].is_null());
    CHECK(data["calibrate"]["records"][0]["modes"].empty());
    CHECK_RELATIVE(data["calibrate"]["records"][0]["nearest"]["ringing_frequency_hz"].get<double>(),
                   far.found.records[0].nearest->ringing_frequency_hz(), seven_digits);
    CHECK(
        far.html.find("<p>Nothing is settled by records that the case cannot explain: find what it lacks, or "
                      "what was measured, first.</p>") != std::string::npos);
    CHECK(far.html.find("id=\"worst\"") == std::string::npos);
}

TEST_CASE("calibrate page: names and titles are text") {
    BenchFile bench = one_ring(118e6, 0.027);
    bench.records[0].name = "</script><script>alert(1)</script> (at \"x\"): & more";
    bench.input.title = "<img src=x onerror=alert(2)>";
    const Made made = made_of(std::move(bench));
    CHECK(made.html.find("<script>alert") == std::string::npos);
    CHECK(made.html.find("<img") == std::string::npos);
    CHECK(made.html.find("<h3 id=\"record-0\">&lt;/script&gt;&lt;script&gt;alert(1)&lt;/script&gt; (at "
                         "&quot;x&quot;): &amp; more</h3>\n<p>At &quot;turn_on current 1&quot;: 118 MHz, "
                         "damping ratio 0.027.</p>") != std::string::npos);
    CHECK(data_of(made.html)["calibrate"]["records"][0]["name"] == made.bench.records[0].name);
}
