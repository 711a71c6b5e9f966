#pragma once

#include <functional>
#include <map>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>

#include "runtime/editor/inbox.h"
#include "runtime/editor/json_forms.h"
#include "runtime/editor/predictor.h"
#include "runtime/editor/workspace.h"

namespace rampart::editor {

// Error codes of JSON-RPC 2.0 and LSP 3.17.
enum class ErrorCode : int {
  ParseError = -32700,
  InvalidRequest = -32600,
  MethodNotFound = -32601,
  InvalidParams = -32602,
  InternalError = -32603,
  ServerNotInitialized = -32002,
  RequestFailed = -32803,
  ContentModified = -32801,
  RequestCancelled = -32800,
};

// A request that cannot be answered.
struct RequestError {
  ErrorCode code{};
  std::string message;
};

// One conversation with an editor: what it has open, and what it has been told.
class Conversation {
 public:
  // `send` writes one message.
  Conversation(Inbox& inbox, std::function<void(const std::string&)> send);
  ~Conversation();

  // One message of the client. False after `exit`.
  [[nodiscard]] bool receive(const std::string& text);
  void answer_broken(const std::string& why);
  void take(const PredictionPtr& prediction);
  void take(const PredictionsTold& told);

  // Tells that what was being done came to nothing, and why.
  void give_up(const std::string& why);

  // When something is to be done though no message comes; none where nothing is.
  [[nodiscard]] std::optional<Inbox::Clock::time_point> next_deadline() const;
  // Does what is due, or, if nothing waits in the inbox, what has been put off a little.
  void work_on(bool is_quiet);

  [[nodiscard]] bool was_shut_down() const { return state_ == State::ShutDown; }

 private:
  enum class State { New, Ready, ShutDown };
  using Handler = Json (Conversation::*)(const Json& params);

  bool dispatch(const Json& message);
  void answer(const Json& id, const std::string& method, const Json& params);
  void notify(const std::string& method, const Json& params);
  void reply(const Json& id, Json result);
  void fail(const Json& id, const RequestError& error);
  void send_notification(const std::string& method, Json params);
  void watch_files();

  // Requests, in requests.cpp.
  Json initialize(const Json& params);
  Json shutdown(const Json& params);
  Json hover(const Json& params);
  Json completion(const Json& params);
  Json definition(const Json& params);
  Json references(const Json& params);
  Json highlights(const Json& params);
  Json prepare_rename(const Json& params);
  Json rename(const Json& params);
  Json outline(const Json& params);
  Json folds(const Json& params);
  Json formatting(const Json& params);
  Json colours(const Json& params);
  Json inlay_hints(const Json& params);
  Json code_actions(const Json& params);

  // The text that a request is about, analysed as it is now.
  View fresh_view(const Json& params);
  void refresh();
  std::vector<PlaceInFile> places_of_name(const View& view, const NameAt& name);

  void open(const Json& params);
  void change(const Json& params);
  void close(const Json& params);
  void touch();
  void publish();
  void publish_one(const std::string& uri, Json findings);
  // Tells that a simulation goes on, for as long as it does.
  void begin_progress();
  void end_progress();

  static const std::map<std::string, Handler, std::less<>>& requests();

  Inbox& inbox_;
  std::function<void(const std::string&)> send_;
  State state_ = State::New;
  ClientAbilities client_;
  Workspace workspace_;
  bool corners_ = true;
  std::optional<Predictor> predictor_;
  std::optional<Inbox::Clock::time_point> stale_since_;
  std::optional<Inbox::Clock::time_point> analyse_at_;
  std::optional<Inbox::Clock::time_point> predict_at_;
  // What was told last of a text.
  struct Published {
    std::string findings;  // as JSON
    std::int64_t version = 0;
  };
  std::map<std::string, Published> published_;  // by URI
  std::int64_t next_id_ = 1;
  std::string progress_;  // its token; empty: none goes on
  std::uint64_t asked_ = 0;
};

}  // namespace rampart::editor
