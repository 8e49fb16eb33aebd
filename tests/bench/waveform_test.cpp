// Samples as scopes export them; what is wrong in them is placed at line and column.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include "ringquell/ring_fit.h"
#include "support/relative.h"
#include "support/rings.h"
#include "support/run_command.h"

using namespace ringquell;

namespace {

Waveform read(const std::string& text, const std::string& time = "", const std::string& value = "") {
    const Folder folder;
    write(folder.path / "a.csv", text);
    return read_waveform(folder / "a.csv", time, value);
}

std::string error_of(const std::string& text, const std::string& time = "", const std::string& value = "") {
    const Folder folder;
    write(folder.path / "a.csv", text);
    try {
        read_waveform(folder / "a.csv", time, value);
    } catch (const InputError& error) {
        return std::string(error.what()).substr((folder / "").size());
    }
    return "no error";
}

}  // namespace

TEST_CASE("columns are found by name, by number or by their order, with their units") {
    const std::vector<double> times{1e-9, 2.5e-9}, values{0.5, -0.25};
    const auto same = [&](const Waveform& w) {
        REQUIRE(w.time_s.size() == 2);
        for (size_t k = 0; k < 2; ++k) {
            CHECK_RELATIVE(w.time_s[k], times[k], 1e-15);
            CHECK_RELATIVE(w.value[k], values[k], 1e-15);
        }
    };
    same(read("1e-9,0.5\n2.5e-9,-0.25\n"));
    same(read("t,v\n1e-9,0.5\n2.5e-9,-0.25\n"));
    same(read("t [ns],v [mV]\n1,500\n2.5,-250\n"));
    same(read("t (ns);v (mV)\r\n1;500\r\n2.5;-250\r\n"));
    same(read("t_ns\tv_V\n1\t0.5\n2.5\t-0.25\n", "t", "v"));
    same(read("t,v\nns,mV\n1,500\n2.5,-250\n"));
    same(read("\"t\",\"v\"\n(us),(kV)\n0.001,0.0005\n0.0025,-0.00025\n"));
    same(read("# a comment\nn,v12 [mV],t [ns]\n1,500,1\n2,-250,2.5\n", "t", "v12"));
    same(read("n,v12 [mV],t [ns]\n1,500,1\n2,-250,2.5\n", "t [ns]", "v12 [mV]"));
    same(read("5,1e-9,0.5\n6,2.5e-9,-0.25\n", "2", "3"));
    // What a scope writes above its columns is passed over where both are named; so are commas at a line's end.
    same(read("Instrument,none\nSamples,2\nt,v,\ns,V,\n1e-9,0.5,\n2.5e-9,-0.25,\n", "t", "v"));
    same(read("t,v\n1e-9,0.5 # a comment\n\n2.5e-9,-0.25"));
    same(read("t [\u00B5s],v\n0.001,0.5\n0.0025,-0.25\n"));
}

TEST_CASE("the place of the times' last digit is known, however they were printed") {
    CHECK_RELATIVE(read("t [ns],v\n0.0,1\n0.2,1\n0.4,1\n").time_resolution_s, 1e-10, 1e-12);
    CHECK_RELATIVE(read("t,v\n9.9998e-07,1\n1.0000e-06,1\n1.0002e-06,1\n").time_resolution_s, 1e-10, 1e-12);
    CHECK_RELATIVE(read("t,v\n-2.000e-10,1\n0.000e+00,1\n2.000e-10,1\n").time_resolution_s, 1e-13, 1e-12);
    // Trailing zeros dropped, six significant digits kept.
    CHECK_RELATIVE(read("t [ns],v\n0,1\n0.123457,1\n1234.57,1\n").time_resolution_s, 1e-11, 1e-12);
    CHECK_RELATIVE(read("t [ns],v\n-20,1\n-10,1\n0,1\n").time_resolution_s, 1e-9, 1e-12);
}

TEST_CASE("a record of few digits is read and fitted") {
    std::string text = "t [ns],v [mV]\n";
    const auto ring = rings::ring(87e6, 0.03, 1.2);
    for (int n = 0; n < 800; ++n) text += fmt::format("{:.1f},{:.1f}\n", 0.25 * n, 1e3 * ring(0.25e-9 * n));
    const RingFit fit = fit_ring(read(text));
    CHECK_RELATIVE(fit.rings[0].frequency_hz, 87e6, 1e-5);
    CHECK_RELATIVE(fit.rings[0].damping_ratio, 0.03, 1e-3);
    CHECK_RELATIVE(fit.rings[0].amplitude, 1.2, 1e-3);
}

TEST_CASE("columns and units that are not there are errors with the nearest name") {
    CHECK(error_of("t,v12,v13\n0,1,2\n", "t", "v21") ==
          "a.csv:1:1: found no column `v21`; did you mean `v12`?");
    CHECK(error_of("time,v12\n0,1\n", "t", "v12") == "a.csv:1:1: found no column `t`; valid here: time, v12");
    CHECK(error_of("t,v\n0,1\n", "t", "t") ==
          "a.csv:1:1: found `t` for both time and value; expected two columns");
    CHECK(error_of("t,v\n0,1\n", "t", "3") == "a.csv:1:1: found 2 columns; expected 3");
    CHECK(error_of("t\n0\n1\n") ==
          "a.csv:1:1: found one column; expected a time and a value, parted by comma, semicolon or tab");
    CHECK(error_of("t [sec],v\n0,1\n") ==
          "a.csv:1:1: found unit `sec` of the time; expected s, ms, us, ns or ps");
    CHECK(error_of("t [ns],v [dB]\n0,1\n") ==
          "a.csv:1:8: found unit `dB` of the value; expected V or A, with a prefix as in mV");
    CHECK(error_of("t [],v [V]\n0,1\n") ==
          "a.csv:1:1: found no unit of the time; expected s, ms, us, ns or ps");
    CHECK(error_of("t,v [V]\n0,1\n") == "a.csv:1:1: found no unit of the time; expected s, ms, us, ns or ps");
    CHECK(error_of("t,v\n,V\n0,1\n") == "a.csv:2:1: found no unit of the time; expected s, ms, us, ns or ps");
    CHECK(error_of("t,v\nseconds,volts\n0,1\n") ==
          "a.csv:2:1: found unit `seconds` of the time; expected s, ms, us, ns or ps");
    CHECK(error_of("t [ns],v\nms,V\n0,1\n") ==
          "a.csv:2:1: found unit `ms` below a header with another; expected one unit");
}

TEST_CASE("rows that cannot be read are errors with line and column") {
    CHECK(error_of("t,v\n0,1\n2e-9,1\n1e-9,1\n") ==
          "a.csv:4:1: found time 1e-09 s after 2e-09 s; expected rising times");
    CHECK(error_of("v,t\n1,0\n1,1e-9\n1,1e-9\n", "t", "v") ==
          "a.csv:4:3: found time 1e-09 s after 1e-09 s; expected rising times (too few digits to tell "
          "samples apart?)");
    CHECK(error_of("t,v\n0,1\n1,nan\n") == "a.csv:3:3: found `nan`; expected a number");
    CHECK(error_of("t,v\n0,1\n1,-inf\n") == "a.csv:3:3: found `-inf`; expected a number");
    CHECK(error_of("t,v\n0,1\n1,\n") == "a.csv:3:3: found ``; expected a number");
    CHECK(error_of("t;v\n0;1\n1;2,5\n") ==
          "a.csv:3:3: found `2,5`, with a decimal comma; expected a point, as in `2.5`");
    CHECK(error_of("t,v\n0,1\n1,2,5\n") ==
          "a.csv:3:1: found 3 fields; expected 2 (decimal commas? They part the fields: write points)");
    CHECK(error_of("t,v\n0,1\n1\n") == "a.csv:3:1: found 1 fields; expected 2");
    CHECK(error_of("t,v\n") == "a.csv:1:0: found no sample; expected a header and a value against time");
    CHECK(error_of("# nothing\n") == "a.csv: found no sample; expected a header and a value against time");
    CHECK(error_of(std::string("\xff\xfet\0,\0", 6)) ==
          "a.csv: the text is UTF-16; expected UTF-8 (save the file as that)");
    CHECK_THROWS_WITH_AS(read_waveform("/nowhere/a.csv"), "/nowhere/a.csv: cannot be read; expected a file",
                         InputError);
    CHECK_THROWS_WITH_AS(read_waveform("/"), "/: is a directory; expected a file", InputError);
}
