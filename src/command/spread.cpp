#include "ringquell/spread.h"

#include <fmt/format.h>
#include <unistd.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <memory>
#include <sstream>

#include "command/command.h"
#include "ringquell/check.h"
#include "ringquell/error.h"
#include "ringquell/operating_path.h"
#include "ringquell/report.h"
#include "ringquell/write_case.h"

namespace ringquell::command {

namespace {

/// A bar with rate and time left, on a terminal only.
class Progress {
  public:
    explicit Progress(std::int64_t samples) : samples_(samples), shown_(isatty(STDERR_FILENO) != 0) {}
    ~Progress() {
        if (drawn_) std::fputs("\r\033[K", stderr);
    }
    void show(std::int64_t done) {
        if (!shown_) return;
        const double seconds =
            std::chrono::duration<double>(std::chrono::steady_clock::now() - start_).count();
        const double rate = seconds > 0 ? static_cast<double>(done - begun_) / seconds : 0;
        constexpr int width = 30;
        const int filled = static_cast<int>(width * done / std::max<std::int64_t>(1, samples_));
        const double left = rate > 0 ? static_cast<double>(samples_ - done) / rate : 0;
        std::fputs(
            fmt::format("\r[{}{}] {} of {}, {:.0f} a second, {:.0f} s left \033[K", std::string(filled, '#'),
                        std::string(width - filled, '.'), done, samples_, rate, left)
                .c_str(),
            stderr);
        std::fflush(stderr);
        drawn_ = true;
    }
    void begin(std::int64_t done) { begun_ = done; }

  private:
    std::int64_t samples_, begun_ = 0;
    bool shown_, drawn_ = false;
    std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
};

/// Rows in the samples' order; after a resumption the first rows are those of the file that is there.
class Rows {
  public:
    Rows(const std::string& file, const Case& input, std::int64_t have) {
        if (file.empty()) return;
        for (const OperatingPoint& p : operating_path(input).points) points_.push_back(p.name);
        if (have > 0 && !std::filesystem::is_regular_file(file))
            throw InputError({file}, "--csv", "is no plain file, whose rows a resumed run could go on from");
        out_ = std::make_unique<GrowingOutput>(file);
        out_->add("sample,passes,damping_ratio,natural_frequency_hz,kind,point,status\n");
        if (have == 0) return;
        std::ifstream before(file, std::ios::binary);
        std::string line;
        std::getline(before, line);
        for (std::int64_t k = 0; k < have; ++k) {
            if (!std::getline(before, line) || !line.starts_with(std::to_string(k) + ","))
                throw InputError(
                    {file}, "--csv",
                    fmt::format("has not the rows of the {} samples that the checkpoint has", have));
            out_->add(line + "\n");
        }
    }
    void add(std::int64_t sample, const SampleOutcome& o) {
        if (!out_) return;
        const char* status = o.status == SampleOutcome::Status::judged     ? "judged"
                             : o.status == SampleOutcome::Status::no_point ? "no operating point"
                                                                           : "not trusted";
        std::string point = o.point >= 0 ? points_[static_cast<size_t>(o.point)] : "";
        for (size_t at = 0; (at = point.find('"', at)) != std::string::npos; at += 2)
            point.insert(at, 1, '"');
        out_->add(
            fmt::format("{},{},{},{},{},\"{}\",{}\n", sample, o.passes ? 1 : 0,
                        std::isnan(o.damping_ratio) ? std::string() : fmt::format("{:.17g}", o.damping_ratio),
                        o.point >= 0 ? fmt::format("{:.9g}", o.natural_frequency_hz) : "", kind_name(o.kind),
                        point, status));
    }
    void finish() {
        if (out_) out_->finish();
    }

  private:
    std::unique_ptr<GrowingOutput> out_;
    std::vector<std::string> points_;
};

struct SpreadArguments : CaseOptions {
    std::int64_t samples = 10000;
    std::uint64_t seed = 1;
    int threads = 0;
    std::string csv, checkpoint, resume, worst;
    bool corners = false, no_resistor = false;
};

std::vector<ResistanceForShare> resistances(const Case& input, const SpreadArguments& o, int threads) {
    std::vector<ResistanceForShare> out;
    if (o.no_resistor || input.n() < 2) return out;
    constexpr std::int64_t enough = 1000;
    const auto points = operating_path(input).points;
    for (const Edge edge : {Edge::turn_on, Edge::turn_off})
        if (!Interruption::asked() && std::any_of(points.begin(), points.end(), [&](const OperatingPoint& p) {
                return p.edge == edge && p.judged;
            }))
            out.push_back(
                resistance_for_share(input, edge, 0.99, std::min(o.samples, enough), o.seed, threads));
    return out;
}

int run_spread(const SpreadArguments& o) {
    const std::string checkpoint = !o.checkpoint.empty() ? o.checkpoint : o.resume;
    std::string worst_file = o.worst;
    if (worst_file.empty()) worst_file = std::filesystem::path(o.file).stem().string() + "-worst.yaml";
    if (worst_file == "none") worst_file.clear();
    const Case input =
        read_apart(o, {{"--csv", o.csv}, {"--worst", worst_file}, {"--checkpoint", checkpoint}});
    if (o.samples < 1) throw InputError({}, "--samples", "expected one sample or more");
    const int threads = threads_of(o.threads);
    SpreadOptions options;
    options.samples = o.samples;
    options.seed = o.seed;
    options.threads = threads;
    if (!o.resume.empty()) {
        // It may be the checkpoint that is written, and nothing else.
        keep_apart({{"--json", o.json}, {"--csv", o.csv}, {"--worst", worst_file}}, {o.resume},
                   "the checkpoint of --resume");
        options.resume = written_before(o.resume, "--resume", "a file that `spread` has written");
        if (options.resume.empty()) throw InputError({o.resume}, "--resume", "is no checkpoint of `spread`");
    }
    Progress progress(o.samples);
    std::optional<Rows> rows;
    options.progress = [&](std::int64_t done) {
        progress.show(done);
        return !Interruption::asked();
    };
    options.each = [&](std::int64_t sample, const SampleOutcome& outcome) {
        if (!rows) {
            rows.emplace(o.csv, input, sample);
            progress.begin(sample);
        }
        rows->add(sample, outcome);
    };
    if (!checkpoint.empty())
        options.checkpoint = [&](const std::string& text) { write_output(checkpoint, text); };
    std::optional<Interruption> interruption(std::in_place);
    const SpreadResult result = spread(input, options);
    if (rows) rows->finish();
    if (!result.worst_case) worst_file.clear();
    if (!worst_file.empty())
        write_output(
            worst_file,
            fmt::format("# Sample {} of seed {} of {}, the worst of {}. Written by `ringquell spread`.\n",
                        *result.worst_sample, result.seed, o.file, result.samples) +
                write_case(*result.worst_case));
    std::optional<Corners> extremes;
    if (o.corners && !Interruption::asked()) extremes = corners(input, result);
    const auto for_share = resistances(input, o, threads);
    interruption.reset();
    if (Interruption::asked() && !result.partial())
        std::cerr << "ringquell: interrupted after the samples: what follows them is incomplete\n";
    print_result(o, spread_text(result, for_share, extremes, worst_file, o.quiet),
                 [&] { return spread_json(result, for_share, extremes, worst_file); });
    return status_of(result.verdict());
}

}  // namespace

void add_spread(CommandLine& line) {
    auto o = std::make_shared<SpreadArguments>();
    Verb verb = line.verb(
        "spread",
        "How often it passes when parts and layout vary, with a confidence bound and the worst sample");
    add_case_options(verb, *o);
    verb.option("--samples", o->samples, "How many (default 10000)").type("N");
    verb.option("--seed", o->seed, "Another seed, other samples (default 1)").type("N").not_negative();
    verb.option("--threads", o->threads, "Default: all processors; no result depends on it")
        .type("N")
        .not_negative();
    add_file_option(verb, "--csv", o->csv, "Write every sample's worst damping, frequency, kind and point");
    add_file_option(
        verb, "--worst", o->worst,
        "Where the worst sample is written as a case (default NAME-worst.yaml here; `none`: not)");
    add_file_option(verb, "--checkpoint", o->checkpoint,
                    "Write what --resume needs, every few seconds and at the end");
    add_file_option(verb, "--resume", o->resume,
                    "Go on from a checkpoint, to the same result; more --samples extend it");
    verb.flag("--corners", o->corners, "Also the extremes of the tolerances that matter most");
    verb.flag("--no-resistor", o->no_resistor, "Leave out the gate resistance that makes 99 % pass (faster)");
    verb.footer("Example: ringquell spread cases/ropeway-cured.yaml --set spread=typical --samples 2000");
    verb.runs([o] { return run_spread(*o); });
}

}  // namespace ringquell::command
